/** What a station's cards and tests say over the years, through the statistics of the drift book. */
import type { BookDb } from '../../db/book.ts';
import type { StoredAirTest } from '../../db/airRecords.ts';
import type { StationTrend } from '../../shared/contract/stations.ts';
import { addDays, daysBetween, julianYearsBetween } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { driftPoints } from '../../shared/stats/driftSeries.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { whatMayBeSaid } from '../../shared/stats/driftWords.ts';
import { MOST_FILTER_DROP_PSI, cyclesOf, runFraction } from '../../shared/cards/station.ts';
import { RUN_LIMITS } from '../../shared/trade/air/leakTests.ts';
import { SCIM_PER_SCFM, scfmOf } from '../../shared/trade/air/flow.ts';
import { dewPointMoved } from '../../shared/trade/air/humidity.ts';
import {
  convertPressure,
  convertTemperature,
  fromMilli,
  toMilli,
  differenceLabel,
} from '../../shared/units/units.ts';
import type { PressureUnit, TemperatureUnit } from '../../shared/units/units.ts';

type Reading = { phase: string; quantity: string; value_milli: number | null; unit: string };
export type StationVisit = { on: PlainDate; outcome: string; readings: Reading[] };

/** The standing records of a station with their readings, oldest first. */
export async function stationVisits(db: BookDb, deviceId: number): Promise<StationVisit[]> {
  const rows = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .innerJoin('reading as r', 'r.calibration_id', 'c.id')
    .select(['c.id', 'c.done_on', 'c.outcome', 'r.phase', 'r.quantity', 'r.value_milli', 'r.unit'])
    .where('tp.device_id', '=', deviceId)
    .where('c.id', 'not in', db.selectFrom('correction').select('replaced_id'))
    .orderBy('c.done_on')
    .orderBy('c.id')
    .orderBy('r.position')
    .execute();
  const visits = new Map<number, StationVisit>();
  for (const { id, done_on, outcome, ...reading } of rows) {
    const visit = visits.get(id) ?? { on: done_on, outcome, readings: [] };
    visit.readings.push(reading);
    visits.set(id, visit);
  }
  return [...visits.values()];
}

type Value = StationTrend['points'][number];
type Said = Pick<StationTrend, 'key' | 'title' | 'unit' | 'worse' | 'limit'> & { noun: string };

export type TrendContext = {
  today: PlainDate;
  pressureUnit: PressureUnit;
  temperatureUnit: TemperatureUnit;
  /** scfm. */
  capacity: number | null;
  use: number;
  mostDewPointDegF: number;
  atmospherePsi: number;
};

function read(visit: StationVisit, quantity: string, phase: string = 'found'): Reading | undefined {
  return visit.readings.find(
    (one) => one.quantity === quantity && one.phase === phase && one.value_milli !== null,
  );
}

function psiOf({ value_milli, unit }: Reading): number {
  return convertPressure(fromMilli(value_milli ?? 0), unit as PressureUnit, 'psi');
}

/** The share of the time of a card’s cycles; null without a whole one. */
function shareOfVisit({ readings }: StationVisit): number | null {
  return runFraction(
    cyclesOf(
      readings.flatMap(({ phase, quantity, value_milli }) =>
        phase === 'found' && value_milli !== null ? [{ quantity, value: value_milli }] : [],
      ),
    ),
  );
}

const fresh = (date: PlainDate, value: number, from: Value['from']): Value => ({
  date,
  value,
  from,
  isFresh: false,
});

function ofVisits(visits: readonly StationVisit[], value: (visit: StationVisit) => number | null): Value[] {
  return visits.flatMap((visit) => {
    const own = value(visit);
    return own === null ? [] : [fresh(visit.on, own, 'card')];
  });
}

/** Filter drops: an element that was changed begins anew. */
function drops(visits: readonly StationVisit[], stage: string, unit: PressureUnit): Value[] {
  return visits.flatMap((visit) => {
    const drop = read(visit, `filter drop, ${stage} stage`);
    if (!drop) return [];
    const psi = psiOf(drop);
    const isChanged = visit.outcome === 'adjusted' && psi > MOST_FILTER_DROP_PSI;
    return [{ ...fresh(visit.on, convertPressure(psi, 'psi', unit), 'card'), isFresh: isChanged }];
  });
}

/** The dew point as found, told at the receiver’s pressure. */
function dewPointAtLine(
  visit: StationVisit,
  { temperatureUnit, atmospherePsi }: TrendContext,
): number | null {
  const [dew, at, line] = [
    read(visit, 'dew point'),
    read(visit, 'pressure of the dew point'),
    read(visit, 'receiver pressure'),
  ];
  if (!dew || !at) return null;
  const degC = convertTemperature(fromMilli(dew.value_milli ?? 0), dew.unit as TemperatureUnit, 'degC');
  const moved = line ? dewPointMoved(degC, { fromPsi: psiOf(at), toPsi: psiOf(line), atmospherePsi }) : degC;
  return convertTemperature(moved, 'degC', temperatureUnit);
}

function ofTests(tests: readonly StoredAirTest[], kinds: readonly StoredAirTest['kind'][]): Value[] {
  return tests
    .filter((test) => kinds.includes(test.kind) && test.replacedBy === null && test.flow_scim_milli !== null)
    .map((test) => fresh(test.done_on, scfmOf(test.flow_scim_milli ?? 0), 'test'));
}

function sharesOfTests(tests: readonly StoredAirTest[]): Value[] {
  return tests
    .filter((test) => test.share_ppm !== null && test.replacedBy === null)
    .map((test) => fresh(test.done_on, (test.share_ppm ?? 0) / 10_000, 'test'));
}

/** One series with its trend: how far it lies above its limit, or below where that is the worse side, and what that says. */
export function trendOf(
  { noun, ...said }: Said,
  values: readonly Value[],
  { today, replacedOn }: { today: PlainDate; replacedOn: ReadonlySet<PlainDate> },
): StationTrend {
  const points = values.toSorted((a, b) => a.date.localeCompare(b.date));
  const sign = said.worse === 'up' ? 1 : -1;
  const limit = said.limit?.value ?? Math.max(0, ...points.map(({ value }) => Math.abs(value)));
  const beyond = (value: number): number => sign * (value - limit);
  const statistics = driftStatistics(
    driftPoints(
      points.map(({ date, value, isFresh }) => {
        const milli = toMilli(beyond(value));
        return {
          date,
          found: { milli, relation: '=' as const },
          leftMilli: milli,
          event: replacedOn.has(date)
            ? ('replaced' as const)
            : isFresh
              ? ('changed' as const)
              : ('none' as const),
          supplyFlagged: false,
        };
      }),
    ),
    0,
    { isShown: true, side: 'above' },
  );
  const { median, firstOn, lastOn } = statistics;
  const at = (date: PlainDate): number => {
    const own = (median?.intercept ?? 0) + (median?.slope ?? 0) * julianYearsBetween(firstOn ?? date, date);
    return sign * own + limit;
  };
  const hasLine = median !== null && firstOn !== null && lastOn !== null && firstOn < lastOn;
  return {
    ...said,
    points,
    line: hasLine
      ? [firstOn, addDays(lastOn, Math.round(daysBetween(firstOn, lastOn) / 4))].map((date) => ({
          date,
          value: at(date),
        }))
      : null,
    said: `${statistics.series > 0 ? 'Since the last change: ' : ''}${whatMayBeSaid(
      said.limit ? statistics : { ...statistics, leaving: { kind: 'no trend' } },
      {
        unit: noun,
        up: said.worse === 'up' ? 'up' : 'down',
        down: said.worse === 'up' ? 'down' : 'up',
        today,
        within: 'its limit',
      },
    )}`,
  };
}

/** Every series of a station that holds a reading. */
export function stationTrends(
  visits: readonly StationVisit[],
  tests: readonly StoredAirTest[],
  context: TrendContext & { replacedOn: ReadonlySet<PlainDate> },
): StationTrend[] {
  const { capacity, use, pressureUnit, temperatureUnit, mostDewPointDegF } = context;
  const dropLimit = {
    value: convertPressure(MOST_FILTER_DROP_PSI, 'psi', pressureUnit),
    words: 'change the element',
  };
  const drop = { unit: pressureUnit, noun: pressureUnit, worse: 'up', limit: dropLimit } as const;
  const series: { said: Said; values: Value[] }[] = [
    {
      said: {
        key: 'run share',
        title: 'Share of the time that it runs',
        unit: '%',
        noun: '% points',
        worse: 'up',
        limit: { value: RUN_LIMITS.wanted * 100, words: 'a third, wanted' },
      },
      values: [
        ...ofVisits(visits, (visit) => {
          const share = shareOfVisit(visit);
          return share === null ? null : share * 100;
        }),
        ...sharesOfTests(tests),
      ],
    },
    {
      said: {
        key: 'demand',
        title: 'Demand, by receiver tests',
        unit: 'scfm',
        noun: 'scfm',
        worse: 'up',
        limit:
          capacity === null
            ? null
            : { value: capacity * RUN_LIMITS.wanted, words: 'a third of the capacity' },
      },
      values: ofTests(tests, ['regulated demand']),
    },
    {
      said: {
        key: 'leaks',
        title: 'Leaks, by bleed-down',
        unit: 'scim',
        noun: 'scim',
        worse: 'up',
        limit: null,
      },
      values: ofTests(tests, ['bleed-down']).map((one) => ({ ...one, value: one.value * SCIM_PER_SCFM })),
    },
    {
      said: {
        key: 'capacity',
        title: 'Capacity, by pump-up',
        unit: 'scfm',
        noun: 'scfm',
        worse: 'down',
        limit: use > 0 ? { value: use / RUN_LIMITS.wanted, words: 'three times the use by kind' } : null,
      },
      values: ofTests(tests, ['pump-up']),
    },
    {
      said: {
        key: 'dew point',
        title: 'Dew point at line pressure',
        unit: temperatureUnit,
        noun: differenceLabel(temperatureUnit),
        worse: 'up',
        limit: { value: convertTemperature(mostDewPointDegF, 'degF', temperatureUnit), words: 'most' },
      },
      values: ofVisits(visits, (visit) => dewPointAtLine(visit, context)),
    },
    {
      said: { key: 'first drop', title: 'Filter drop, first stage', ...drop },
      values: drops(visits, 'first', pressureUnit),
    },
    {
      said: { key: 'second drop', title: 'Filter drop, second stage', ...drop },
      values: drops(visits, 'second', pressureUnit),
    },
    {
      said: { key: 'water', title: 'Water drained', unit: 'ml', noun: 'ml', worse: 'up', limit: null },
      values: ofVisits(visits, (visit) => {
        const water = read(visit, 'water drained');
        return water ? fromMilli(water.value_milli ?? 0) : null;
      }),
    },
  ];
  return series.flatMap(({ said, values }) => (values.length === 0 ? [] : [trendOf(said, values, context)]));
}
