/**
 * `energy.baseline`: what a period's heat was as operated, drift and all, and as intended; the difference is the non-routine
 * adjustment of a baseline that shall stand for calibrated operation (IPMVP 2022, seen; air-energy reference 5.6).
 */
import type { BookDb } from '../../db/book.ts';
import { energyBills } from '../../db/energy.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import type { Baseline } from '../../shared/contract/energy.ts';
import { daysBetween } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { bandOf, sumOf, widened } from '../../shared/energy/band.ts';
import type { Band } from '../../shared/energy/band.ts';
import { energyCautions } from '../../shared/energy/cautions.ts';
import { driftByMonth } from '../../shared/energy/driftByMonth.ts';
import { fuelOfHours } from '../../shared/energy/heating.ts';
import { LEAST_DAYS, MONTH_DAYS, climateByDays, climateOf } from '../../shared/energy/weather.ts';
import type { Climate, Weather } from '../../shared/energy/weather.ts';
import { heatOfMonth } from '../../shared/energy/zone.ts';
import type { JobHandler, JobHooks } from '../context.ts';
import { counted } from '../register/loadFiles.ts';
import { dayPoint, energyFacts, periodOf } from './zones.ts';
import type { Period, ZoneFacts } from './zones.ts';

export type BaselineOf = {
  building: string | null;
  main: string | null;
  from: PlainDate | null;
  to: PlainDate | null;
};

const MOST_DAYS = 3 * 365;

/** Each month by its own days where they are known, for a bill needs the temperatures of its own month; else by the whole of the weather. */
function climatesOf(
  weather: Weather,
  months: readonly string[],
): { of: (month: string) => Climate; own: number; general: Climate } {
  const general = climateOf(weather);
  const climates = new Map<string, Climate>();
  for (const month of months) {
    const days = weather.daily.filter(({ on }) => on.startsWith(month)).map(({ degF }) => degF);
    if (days.length < LEAST_DAYS) continue;
    climates.set(month, climateByDays(MONTH_DAYS.map(() => days)));
  }
  return { of: (month) => climates.get(month) ?? general, own: climates.size, general };
}

type ZoneMonth = {
  operated: number;
  intended: number;
  low: number;
  high: number;
  error: number | null;
  known: number;
};

/** Therms of each month of a period of one zone. */
function monthsOfZone(zone: ZoneFacts, climates: (month: string) => Climate, period: Period): ZoneMonth[] {
  const day = driftByMonth(dayPoint(zone.points)?.visits ?? [], period);
  const night = driftByMonth(zone.points.get('unoccupied')?.visits ?? [], period);
  const fuel = (hours: number): number =>
    fuelOfHours(hours, { k: zone.k as number, efficiency: zone.efficiency as number });
  return day.map(({ month, days, known, mean }, index) => {
    const at = Number(month.slice(5)) - 1;
    const climate = climates(month);
    const share = Math.min(1, days / MONTH_DAYS[at]);
    const error = ((mean ?? 0) * known) / days;
    const nights = night[index];
    const nightError = ((nights.mean ?? 0) * nights.known) / nights.days;
    const operated = heatOfMonth(
      zone.zone,
      { day: error, night: nightError, isSwitching: true },
      climate,
      at,
    );
    const intended = heatOfMonth(zone.zone, { day: 0, night: 0, isSwitching: true }, climate, at);
    const therms = (one: number): number => fuel(one * share);
    const added = [operated.full - intended.full, operated.deep - intended.deep].map(therms);
    return {
      operated: therms((operated.full + operated.deep) / 2),
      intended: therms((intended.full + intended.deep) / 2),
      low: Math.min(...added),
      high: Math.max(...added),
      error: mean,
      known: known / days,
    };
  });
}

/** Days of a month of the calendar. */
function daysOfMonth(month: string): number {
  const [year, number] = month.split('-').map(Number);
  return new Date(Date.UTC(year, number, 0)).getUTCDate();
}

async function eventsOf(
  db: BookDb,
  zones: readonly ZoneFacts[],
  period: Period,
): Promise<Baseline['events']> {
  const points = new Set(zones.flatMap(({ points: own }) => [...own.values()].map((one) => one.testPointId)));
  const rows = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .select(['c.done_on', 'c.test_point_id'])
    .where('c.outcome', '=', 'adjusted')
    .where('tp.kind', '=', 'setpoint')
    .where('c.done_on', '>=', period.from)
    .where('c.done_on', '<=', period.to)
    .where('c.id', 'not in', db.selectFrom('correction').select('replaced_id'))
    .execute();
  const days = new Map<string, number>();
  for (const { done_on, test_point_id } of rows)
    if (points.has(test_point_id)) days.set(done_on, (days.get(done_on) ?? 0) + 1);
  return [...days]
    .toSorted(([a], [b]) => a.localeCompare(b))
    .map(([date, count]) => ({ date, what: `${counted(count, 'setpoint')} adjusted` }));
}

/** The baseline of a part of the site. Throws `invalid_input` without weather, on a period that is none, or where nothing is known. */
export async function baselineOf(
  db: BookDb,
  { building, main, from, to }: BaselineOf,
  today: PlainDate,
  hooks: JobHooks,
): Promise<Baseline> {
  const period = periodOf({ from, to }, today);
  if (daysBetween(period.from, period.to) > MOST_DAYS)
    refuseField('from', period.from, 'a baseline of at most three years');
  const facts = await energyFacts(db, { today, period }, hooks);
  if (facts.weather === null)
    throw new AppError('invalid_input', 'A baseline needs the weather: choose or load one first.');
  const inScope = facts.zones.filter(
    (zone) => (building === null || zone.building === building) && (main === null || zone.main === main),
  );
  if (inScope.length === 0)
    throw new AppError('invalid_input', 'No zone stands in this part of the site.', {
      problems: [
        {
          column: building === null ? 'main' : 'building',
          value: building ?? main ?? '',
          reason: 'no zone stands in it',
        },
      ],
    });
  const zones = inScope.filter(({ k, efficiency }) => k !== null && efficiency !== null);
  if (zones.length === 0)
    throw new AppError(
      'invalid_input',
      'Nothing is known of the heat of this part: its zones have no area, or their building no loss, floor area or efficiency.',
    );
  const whole = driftByMonth([], period);
  const names = whole.map(({ month }) => month);
  const climates = climatesOf(facts.weather, names);
  const isOwnYear = climates.own === names.length;
  const perZone = zones.map((zone) => monthsOfZone(zone, climates.of, period));
  const isSite = building === null && main === null;
  const bills = isSite ? (await energyBills(db)).filter(({ unit }) => unit === 'therm') : [];
  const bands: Band[] = [];
  const months = names.map((month, at) => {
    const own = perZone.map((list) => list[at]);
    const total = (pick: (one: ZoneMonth) => number): number => own.reduce((sum, one) => sum + pick(one), 0);
    const weights = zones.map(({ k }) => k as number);
    const weight = weights.reduce((sum, one, index) => sum + (own[index].error === null ? 0 : one), 0);
    // A bill of a whole month says nothing of a part of it.
    const isWhole = whole[at].days >= daysOfMonth(month);
    const ofMonth = isWhole ? bills.filter((bill) => bill.month === month) : [];
    bands.push(
      bandOf(
        total(({ low }) => low),
        total(({ high }) => high),
      ),
    );
    return {
      month,
      meanErrorDegF:
        weight === 0
          ? null
          : weights.reduce((sum, one, index) => sum + one * (own[index].error ?? 0), 0) / weight,
      knownShare: own.length === 0 ? 0 : total(({ known }) => known) / own.length,
      asOperated: total(({ operated }) => operated),
      asIntended: total(({ intended }) => intended),
      billed: ofMonth.length === 0 ? null : ofMonth.reduce((sum, bill) => sum + bill.use_milli / 1000, 0),
      adjustment: (bands[at].low + bands[at].high) / 2,
    };
  });
  const adjustment = widened(sumOf(bands), 1);
  const billed = months.every((one) => one.billed !== null)
    ? months.reduce((total, one) => total + (one.billed ?? 0), 0)
    : null;
  const operated = months.reduce((total, one) => total + one.asOperated, 0);
  const intended = months.reduce((total, one) => total + one.asIntended, 0);
  return {
    ...period,
    scope:
      [building === null ? '' : `building ${building}`, main === null ? '' : `main ${main}`]
        .filter((one) => one !== '')
        .join(', ') || 'the whole site',
    setpoints: inScope.reduce((total, { points }) => total + points.size, 0),
    withoutLoss: inScope.length - zones.length,
    months,
    asOperated: operated,
    asIntended: intended,
    billed,
    adjustment,
    billedAsIntended:
      billed === null
        ? null
        : {
            low: billed - adjustment.high,
            central: billed - adjustment.central,
            high: billed - adjustment.low,
          },
    events: await eventsOf(db, inScope, period),
    words: [
      'As operated holds the drift: savings against it credit what a recalibration would have saved to the retrofit.',
      'As intended has the drift taken out by a non-routine adjustment: subtract it from the bills of the baseline period.',
      'Settle which of the two holds before work starts, and recalibrate nothing in the baseline period without a record.',
    ],
    method: `degree days: ${isOwnYear ? 'daily temperatures of each month itself' : `${climates.general.methodAt(zones[0].zone.dayDegF - zones[0].zone.gainDegF, 'heating')}${climates.own > 0 ? `, ${climates.own} of ${names.length} months by their own days` : ''}`}; drift on a line between visits, steps where it was adjusted`,
    cautions: [
      ...(isOwnYear ? [] : ['The temperatures are not those of the period: its bills need them.']),
      ...energyCautions,
    ],
  };
}

export const baselineJob: JobHandler<'energy.baseline'> = async ({ book, clock }, input, hooks) =>
  baselineOf(book.reader, input, clock.today(), hooks);
