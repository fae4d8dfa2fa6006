/** What the sample site pays, the public station whose climate stands in for its own, and a year of bills: all of it invented. */
import type { BookDb } from '../../db/book.ts';
import { writeSetting } from '../../db/settings.ts';
import { defaultEnergySettings } from '../../shared/contract/energy.ts';

/** Therms of the heating meter from November 2025 to October 2026. */
const therms = [2980, 3890, 4310, 3620, 2870, 1560, 540, 110, 60, 80, 290, 1320];
const FIRST = { year: 2025, month: 11 };
const PRICE = 1;

export async function writeEnergy(db: BookDb): Promise<void> {
  await writeSetting(
    db,
    'energy',
    {
      ...defaultEnergySettings,
      heatPricePerTherm: PRICE,
      electricityPricePerKwh: 0.12,
      weather: 'USW00094846 1981-2010',
    },
    0,
  );
  for (const [index, use] of therms.entries()) {
    const at = FIRST.month - 1 + index;
    const month = `${FIRST.year + Math.floor(at / 12)}-${String((at % 12) + 1).padStart(2, '0')}`;
    await db
      .insertInto('energy_bill')
      .values({
        meter: 'HEAT-1',
        month,
        use_milli: use * 1000,
        unit: 'therm',
        cost_milli: use * PRICE * 1000,
      })
      .execute();
  }
}
