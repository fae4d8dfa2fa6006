/** A figure with its band. Energy figures are no better than what goes in: K and gains are usually known to 30 %. */

export type Band = { low: number; central: number; high: number };

/** How well a loss is usually known, as a share (air-energy reference 4.8, common practice). */
export const LOSS_DOUBT = 0.3;

/** From some estimates: the least, the middle between least and most, the most. */
export function bandOf(...estimates: number[]): Band {
  const [low, high] = [Math.min(...estimates), Math.max(...estimates)];
  return { low, central: (low + high) / 2, high };
}

/** Times a factor. */
export function scaled({ low, central, high }: Band, factor: number): Band {
  return { low: low * factor, central: central * factor, high: high * factor };
}

/** Times a factor that is known to a share: the band widens away from nothing on both sides. */
export function widened({ low, central, high }: Band, factor: number, doubt = LOSS_DOUBT): Band {
  const ends = [low, high].flatMap((one) => [one * factor * (1 - doubt), one * factor * (1 + doubt)]);
  return { low: Math.min(...ends), central: central * factor, high: Math.max(...ends) };
}

/** The sum of bands. Ends are added: what makes one too high, as a loss that is taken too high, makes all too high. */
export function sumOf(bands: readonly Band[]): Band {
  return bands.reduce(
    (sum, one) => ({ low: sum.low + one.low, central: sum.central + one.central, high: sum.high + one.high }),
    { low: 0, central: 0, high: 0 },
  );
}

/** Two significant digits: never more than what goes in has. */
export function shown(value: number): number {
  return value === 0 ? 0 : Number(value.toPrecision(2));
}

/** An amount to two digits, its sign before the currency. */
export function amountText(value: number, currency = ''): string {
  const rounded = shown(value);
  return `${rounded < 0 ? '−' : ''}${currency}${Math.abs(rounded).toLocaleString('en', { maximumFractionDigits: 6, useGrouping: false })}`;
}

/** A band as people read it: central, and low to high where they differ. Nothing known: a dash. */
export function bandText(band: Band | null, currency = ''): string {
  if (band === null) return '–';
  const [low, central, high] = [band.low, band.central, band.high].map((one) => amountText(one, currency));
  return low === high ? central : `${central} (${low} to ${high})`;
}
