/** Fuel and money of hours and of currents, by what the site pays. */
import type { EnergyAmounts, EnergyEntry, EnergySettings } from '../../shared/contract/energy.ts';
import { scaled, sumOf, widened } from '../../shared/energy/band.ts';
import type { Band } from '../../shared/energy/band.ts';
import { fuelOfHours } from '../../shared/energy/heating.ts';

/** A line before its place in the ranking is known. */
export type Draft = Omit<EnergyEntry, 'rank' | 'perHour'>;

export const nothingWeighed: EnergyAmounts = { degreeHours: null, therms: null, kwh: null, money: null };

/** Money of fuel and current; null where a price of one of them is lacking. */
export function moneyOf(
  { therms, kwh }: Pick<EnergyAmounts, 'therms' | 'kwh'>,
  { heatPricePerTherm: heat, electricityPricePerKwh: power }: EnergySettings,
): Band | null {
  if ((therms && heat === null) || (kwh && power === null) || (!therms && !kwh)) return null;
  return sumOf([...(therms ? [scaled(therms, heat ?? 0)] : []), ...(kwh ? [scaled(kwh, power ?? 0)] : [])]);
}

/** Amounts of heat by its hours, and of current beside it. Without K or efficiency there are hours only. */
export function amountsOf(
  { hours, kwh }: { hours: Band | null; kwh: Band | null },
  { k, efficiency }: { k: number | null; efficiency: number | null },
  settings: EnergySettings,
): EnergyAmounts {
  const therms =
    hours === null || k === null || efficiency === null
      ? null
      : widened(hours, fuelOfHours(1, { k, efficiency }));
  // Current without the heat that belongs to it would make one half look like the whole.
  const isWhole = hours === null || therms !== null;
  const own = { therms, kwh };
  return { degreeHours: hours, ...own, money: isWhole ? moneyOf(own, settings) : null };
}
