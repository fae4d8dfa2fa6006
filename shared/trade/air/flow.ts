/**
 * Flow of air through a hole, from first principles: isentropic flow of a perfect gas, gamma 1.4, R 287.055 J/(kg K), with
 * an explicit coefficient. Below the critical ratio it is choked and depends on the pressure above alone. At sea level the
 * change lies at 13.1 psi gauge, in the middle of control pressures: a formula for choked flow overstates the flow of a
 * branch. Gauge pressures psi, diameters in, temperatures degF; flow in scfm of air at 14.696 psi absolute and 70 degF, dry.
 * Checked against a published table (tests/published/air.test.ts).
 */

const GAMMA = 1.4;
const GAS_CONSTANT = 287.055;
const PA_PER_PSI = 6894.757;
const METRES_PER_INCH = 0.0254;
const CUBIC_FEET_PER_CUBIC_METRE = 35.314667;
/** Standard air of every flow here. */
export const STANDARD = { atmospherePsi: 14.696, degF: 70 } as const;
export const SCIM_PER_SCFM = 1728;

/** Thousandths of a scim, as flows are stored, in scfm. */
export function scfmOf(scimMilli: number): number {
  return scimMilli / 1000 / SCIM_PER_SCFM;
}

/** Share of the pressure above, both absolute, below which the pressure beneath does not count any more: 0.528. */
export const CRITICAL_RATIO = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1));

/** Coefficients of an edge, for the flow through the whole hole. Unknown leaks: `unknown`, with the band from sharp to rounded. */
export const COEFFICIENTS = { rounded: 0.97, unknown: 0.65, sharp: 0.61 } as const;

function kelvin(degF: number): number {
  return (degF - 32) / 1.8 + 273.15;
}

/** Atmosphere in psi absolute at a height in feet: the standard atmosphere. Throws RangeError beyond 36,000 ft. */
export function atmosphereAt(feet: number): number {
  if (!(Math.abs(feet) <= 36_000)) throw new RangeError('a height within 36,000 ft');
  return STANDARD.atmospherePsi * (1 - 6.8754e-6 * feet) ** 5.2559;
}

export type Hole = {
  diameterIn: number;
  coefficient: number;
  /** Gauge pressures before and behind the hole. */
  abovePsi: number;
  belowPsi?: number;
  degF?: number;
  atmospherePsi?: number;
};

export type HoleFlow = { scfm: number; gramsPerSecond: number; isChoked: boolean };

/** Flow through a hole; nothing where the pressure beneath is not lower. Throws RangeError on figures that cannot be. */
export function flowThrough({
  diameterIn,
  coefficient,
  abovePsi,
  belowPsi = 0,
  degF = STANDARD.degF,
  atmospherePsi = STANDARD.atmospherePsi,
}: Hole): HoleFlow {
  if (!(diameterIn >= 0) || !(coefficient > 0 && coefficient <= 1) || !(atmospherePsi > 0))
    throw new RangeError('a hole of 0 in and more, a coefficient above 0 and up to 1');
  const above = (abovePsi + atmospherePsi) * PA_PER_PSI;
  const below = (belowPsi + atmospherePsi) * PA_PER_PSI;
  if (!(above > 0) || !(below >= 0)) throw new RangeError('pressures above a vacuum');
  if (!(kelvin(degF) > 0)) throw new RangeError('a temperature above absolute zero');
  if (below >= above) return { scfm: 0, gramsPerSecond: 0, isChoked: false };
  const ratio = below / above;
  const isChoked = ratio <= CRITICAL_RATIO;
  const area = (Math.PI * (diameterIn * METRES_PER_INCH) ** 2) / 4;
  const temperature = kelvin(degF);
  const shape = isChoked
    ? Math.sqrt(GAMMA / (GAS_CONSTANT * temperature)) * (2 / (GAMMA + 1)) ** ((GAMMA + 1) / (2 * (GAMMA - 1)))
    : Math.sqrt(
        ((2 * GAMMA) / ((GAMMA - 1) * GAS_CONSTANT * temperature)) *
          (ratio ** (2 / GAMMA) - ratio ** ((GAMMA + 1) / GAMMA)),
      );
  const kilograms = coefficient * area * above * shape;
  const density = (STANDARD.atmospherePsi * PA_PER_PSI) / (GAS_CONSTANT * kelvin(STANDARD.degF));
  return {
    scfm: (kilograms / density) * CUBIC_FEET_PER_CUBIC_METRE * 60,
    gramsPerSecond: kilograms * 1000,
    isChoked,
  };
}

/** The lowest gauge pressure from which flow into a pressure beneath is choked, psi. */
export function chokedFrom(atmospherePsi: number = STANDARD.atmospherePsi, belowPsi: number = 0): number {
  return (belowPsi + atmospherePsi) / CRITICAL_RATIO - atmospherePsi;
}

/** Low, likely and high flow of a leak whose edge nobody has seen, scfm. */
export function leakBand(hole: Omit<Hole, 'coefficient'>): { low: number; typical: number; high: number } {
  const at = (coefficient: number): number => flowThrough({ ...hole, coefficient }).scfm;
  return { low: at(COEFFICIENTS.sharp), typical: at(COEFFICIENTS.unknown), high: at(COEFFICIENTS.rounded) };
}
