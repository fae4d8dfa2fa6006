/** Air quality by class: ISO 8573-1:2010 (limits as reported second-hand), particles : water : oil. */

/** Particles 1 to 5 um per m3, pressure dew point degC, total oil mg/m3: upper limits by class, class 1 first. */
const PARTICLES = [10, 100, 1_000, 10_000, 100_000] as const;
const WATER = [-70, -40, -20, 3, 7, 10] as const;
const OIL = [0.01, 0.1, 1, 5] as const;

/**
 * What instrument air may hold at most: ISA-7.0.01 as reported (40 um; 1 ppm of oil by weight, in mg per m3 of air of
 * 1.2 kg/m3).
 */
export const AIR_LIMITS = { oilMg: 1.2, particleUm: 40 } as const;

function classOf(value: number | null, limits: readonly number[]): string {
  if (value === null) return '-';
  const at = limits.findIndex((limit) => value <= limit);
  return at < 0 ? 'X' : String(at + 1);
}

/** Particles above it rule the classes by count out (ISO 8573-1, from memory), um. */
const COUNTED_TO_UM = 5;

/** Designation of what was measured, such as `3:4:3`; `-` where it was not, `X` beyond the classes here. */
export function qualityClass(measured: {
  particles: number | null;
  largestUm?: number | null;
  dewPointDegC: number | null;
  oilMg: number | null;
}): string {
  return [
    (measured.largestUm ?? 0) > COUNTED_TO_UM && measured.particles !== null
      ? 'X'
      : classOf(measured.particles, PARTICLES),
    classOf(measured.dewPointDegC, WATER),
    classOf(measured.oilMg, OIL),
  ].join(':');
}
