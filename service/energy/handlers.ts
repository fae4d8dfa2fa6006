/** Prices, weather and bills: what the energy of setpoints is reckoned by. */
import { createHash } from 'node:crypto';
import { energyBills } from '../../db/energy.ts';
import { appendSettingChange, appendSettingChanges } from '../../db/records.ts';
import { writeSetting } from '../../db/settings.ts';
import { OWN_WEATHER } from '../../shared/energy/kinds.ts';
import { refuseField } from '../../shared/contract/errors.ts';
import { publicNormals } from '../../shared/energy/normals.ts';
import type { CallContext, GroupHandlers } from '../context.ts';
import { counted, decodeFiles, inFileOrder } from '../register/loadFiles.ts';
import { requireVersion } from '../register/requireVersion.ts';
import { readBills } from './readBills.ts';
import { readWeather } from './readWeather.ts';
import { energySettingsOf, ownWeatherOf } from './settings.ts';

const words = [
  ['currency', 'currency'],
  ['heatPricePerTherm', 'price of heat by the therm'],
  ['electricityPricePerKwh', 'price of electricity by the kWh'],
  ['weather', 'weather'],
  ['balanceBelowDegF', 'balance point below the setpoint, degF'],
  ['overlapHours', 'hours a year in an overlap'],
  ['kwPerTon', 'kW a ton of cooling'],
  ['repairMinutes', 'minutes of a repair'],
] as const;

/** The chain keeps what was loaded by its name and fingerprint. */
async function noteLoad(
  { db, clock, personId }: CallContext,
  what: string,
  { name, bytes }: { name: string; bytes: Uint8Array },
): Promise<void> {
  await appendSettingChange(db, {
    subject: 'energy',
    what,
    device_id: null,
    from_value: null,
    to_value: `${name}, SHA-256 ${createHash('sha256').update(bytes).digest('hex')}`,
    at: clock.now(),
    person_id: personId,
    why: '',
  });
}

export const energyHandlers: GroupHandlers<'energy'> = {
  settings: async ({ db }) => {
    const { value, version } = await energySettingsOf(db);
    const { value: own } = await ownWeatherOf(db);
    const meters = new Map<string, { unit: string; months: string[] }>();
    for (const { meter, unit, month } of await energyBills(db)) {
      const held = meters.get(meter) ?? { unit, months: [] };
      meters.set(meter, held);
      held.months.push(month);
    }
    return {
      values: value,
      version,
      stations: publicNormals.map(({ id, name }) => ({ id, name })),
      own: own && { name: own.name, source: own.source, days: own.daily.length, bases: own.bases.length },
      bills: [...meters].map(([meter, { unit, months }]) => ({
        meter,
        unit,
        months: months.length,
        from: months[0],
        to: months[months.length - 1],
      })),
    };
  },

  saveSettings: async ({ db, clock, personId }, { version, why, ...values }) => {
    const held = await energySettingsOf(db);
    requireVersion(version, { version: held.version, values: held.value });
    const isKnown =
      values.weather === '' ||
      publicNormals.some(({ id }) => id === values.weather) ||
      (values.weather === OWN_WEATHER && (await ownWeatherOf(db)).value !== null);
    if (!isKnown) refuseField('weather', values.weather, 'there is no such weather in the book');
    await writeSetting(db, 'energy', values, held.version);
    await appendSettingChanges(
      db,
      { before: held.value, after: values, named: words },
      { subject: 'energy', at: clock.now(), person_id: personId, why },
    );
    return {};
  },

  loadWeather: async (context, { file, dryRun }) => {
    const { db } = context;
    const [bytes] = decodeFiles([file]);
    const read = readWeather(bytes);
    if ('problems' in read)
      return { problems: inFileOrder([file], read.problems), rows: 0, message: 'Nothing was changed.' };
    const { weather, rows } = read;
    const held = await ownWeatherOf(db);
    if (JSON.stringify(held.value) === JSON.stringify(weather))
      return { problems: [], rows, message: 'This weather is in the book already; nothing was changed.' };
    const holds =
      weather.daily.length > 0
        ? counted(weather.daily.length, 'day')
        : `twelve monthly means${weather.bases.length > 0 ? ` and degree days at ${counted(weather.bases.length, 'base')}` : ''}`;
    if (dryRun)
      return { problems: [], rows, message: `Dry run: ${holds} would be loaded; nothing was changed.` };
    await writeSetting(db, 'weather', weather, held.version);
    const settings = await energySettingsOf(db);
    if (settings.value.weather !== OWN_WEATHER) {
      const after = { ...settings.value, weather: OWN_WEATHER };
      await writeSetting(db, 'energy', after, settings.version);
      await appendSettingChanges(
        db,
        { before: settings.value, after, named: words },
        {
          subject: 'energy',
          at: context.clock.now(),
          person_id: context.personId,
          why: 'own weather loaded',
        },
      );
    }
    await noteLoad(context, 'weather file', bytes);
    return { problems: [], rows, message: `${holds} loaded; the site reckons by its own weather now.` };
  },

  loadBills: async (context, { file, dryRun }) => {
    const { db } = context;
    const [bytes] = decodeFiles([file]);
    const { bills, problems } = readBills(bytes);
    if (problems.length > 0)
      return { problems: inFileOrder([file], problems), rows: 0, message: 'Nothing was changed.' };
    const held = new Map((await energyBills(db)).map((bill) => [`${bill.meter} ${bill.month}`, bill]));
    const today = context.clock.today().slice(0, 7);
    const wrong = bills.flatMap((bill) => {
      const before = held.get(`${bill.meter} ${bill.month}`);
      const problem = (column: string, value: string, reason: string) => [
        { file: file.name, line: bill.line, column, value, reason },
      ];
      if (bill.month > today) return problem('month', bill.month, 'lies in the future');
      return before !== undefined && before.unit !== bill.unit
        ? problem('unit', bill.unit, `the book has this bill in ${before.unit}: a meter has one unit`)
        : [];
    });
    if (wrong.length > 0)
      return { problems: inFileOrder([file], wrong), rows: 0, message: 'Nothing was changed.' };
    const fresh = bills.filter((bill) => {
      const before = held.get(`${bill.meter} ${bill.month}`);
      return (
        before === undefined ||
        before.use_milli !== bill.use_milli ||
        before.unit !== bill.unit ||
        before.cost_milli !== bill.cost_milli
      );
    });
    if (fresh.length === 0)
      return {
        problems: [],
        rows: bills.length,
        message: `All ${bills.length} bills are in the book already; nothing was changed.`,
      };
    if (dryRun)
      return {
        problems: [],
        rows: bills.length,
        message: `Dry run: ${counted(fresh.length, 'bill')} would be loaded; nothing was changed.`,
      };
    const replaced = fresh.filter((bill) => held.has(`${bill.meter} ${bill.month}`)).length;
    for (const { line: _line, ...bill } of fresh)
      await db
        .insertInto('energy_bill')
        .values(bill)
        .onConflict((oc) =>
          oc
            .columns(['meter', 'month'])
            .doUpdateSet({ use_milli: bill.use_milli, unit: bill.unit, cost_milli: bill.cost_milli }),
        )
        .execute();
    await noteLoad(context, 'bills', bytes);
    return {
      problems: [],
      rows: bills.length,
      message: `${counted(fresh.length, 'bill')} loaded${replaced > 0 ? `, ${replaced} in the place of another` : ''}.`,
    };
  },
};
