/** The zones that controllers keep: what they are meant to hold, how far they stand off, and what their heat is reckoned by. */
import { airNetwork } from '../../db/airNetwork.ts';
import type { BookDb } from '../../db/book.ts';
import { buildingFigures, setpointEfforts, zoneControllers } from '../../db/energy.ts';
import type { BuildingFigures } from '../../db/energy.ts';
import { driftPointsQuery, everywhere } from '../../db/driftPoints.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import type { EnergySettings } from '../../shared/contract/energy.ts';
import { addDays, julianYearsBetween } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import type { VisitError } from '../../shared/energy/driftByMonth.ts';
import type { WeekOff } from '../../shared/energy/setback.ts';
import { climateOf } from '../../shared/energy/weather.ts';
import type { Climate, Weather } from '../../shared/energy/weather.ts';
import { offPeriods } from '../../shared/energy/zone.ts';
import type { Zone } from '../../shared/energy/zone.ts';
import { airAt } from '../../shared/register/air/airAt.ts';
import type { AirNetwork, MainNode } from '../../shared/register/findings/network.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { convertTemperature, convertTemperatureDifference, fromMilli } from '../../shared/units/units.ts';
import type { TemperatureUnit } from '../../shared/units/units.ts';
import type { JobHooks } from '../context.ts';
import { historiesByStretch } from '../drift/walk.ts';
import type { Walked } from '../drift/walk.ts';
import { energySettingsOf, weatherOf } from './settings.ts';

/** A building of middling mass, hours; and what of the mean gains is left at night. Common practice. */
const USUAL_TAU = 32;
const NIGHT_SHARE = 0.25;
/** Nobody there: four nights of 12 hours and one of 60, where no time switch says another. */
const USUAL_WEEK: WeekOff = [
  { count: 4, hours: 12 },
  { count: 1, hours: 60 },
];

/** How a setpoint stands. Errors in degF, control point less intended. */
export type PointState = {
  testPointId: number;
  role: string;
  dialDegF: number;
  toleranceDegF: number;
  minutes: number | null;
  /** As it stands now: as left last, and drifted since where a trend is known; null where no reading tells. */
  nowDegF: number | null;
  isTrended: boolean;
  visits: VisitError[];
};

export type ZoneFacts = {
  deviceId: number;
  tag: string;
  building: string | null;
  main: string | null;
  zone: Zone;
  isWeekKnown: boolean;
  isGainKnown: boolean;
  /** Btu/(h degF); null where area or loss are not known. */
  k: number | null;
  efficiency: number | null;
  /** Of the building's metered cooling, kWh a year. */
  coolingKwh: number | null;
  points: Map<string, PointState>;
};

/** The setpoint that heat goes by while somebody is there; undefined where a zone is cooled only. */
export function dayPoint(points: ReadonlyMap<string, PointState>): PointState | undefined {
  return points.get('occupied') ?? points.get('only') ?? points.get('heating');
}

export type Period = { from: PlainDate; to: PlainDate };

const YEAR_DAYS = 365;

/**
 * The days that are named; the year that ends with the last of them, or with `end`. Throws `invalid_input` where they end
 * before they begin, or after `end`: of what lies ahead nothing is known.
 */
export function periodOf(
  { from, to }: { from: PlainDate | null; to: PlainDate | null },
  end: PlainDate,
): Period {
  const last = to ?? end;
  if (last > end) refuseField('to', last, `after ${end}: of the days to come nothing is known`);
  if (from !== null && from > last) refuseField('to', last, `before ${from}`);
  return { from: from ?? addDays(last, 1 - YEAR_DAYS), to: last };
}

export type EnergyFacts = {
  settings: EnergySettings;
  weather: Weather | null;
  climate: Climate | null;
  network: AirNetwork;
  zones: ZoneFacts[];
  /** Setpoints of controllers that keep no room: humidity, receiver-controllers. */
  noZone: number;
};

const isTemperature = (unit: string): unit is TemperatureUnit => unit === 'degF' || unit === 'degC';
const known = (milli: number | null | undefined): number | null => (milli == null ? null : fromMilli(milli));

/** Off-periods of the mains whose two pressures mean occupied and unoccupied, by the programme of a week without holidays. */
function weeksOfMains(network: AirNetwork): Map<number, WeekOff> {
  const above = new Map(
    [...network.nodes].flatMap(([id, node]) =>
      node.class === 'controller' || node.class === 'actuator' || node.class === 'transmitter'
        ? []
        : [[id, node.class === 'time_switch' ? { ...node, holidays: [], ahead: null } : node] as const],
    ),
  );
  const mains = [...above.values()].filter(
    (node): node is MainNode =>
      node.class === 'main' && (node.lowMeans === 'unoccupied' || node.highMeans === 'unoccupied'),
  );
  const supply: AirNetwork = { nodes: above, points: [] };
  const isOff = new Map<number, boolean[]>(mains.map(({ id }) => [id, []]));
  // A Monday to a Sunday in winter, by half hours.
  const week = [
    '2026-01-05',
    '2026-01-06',
    '2026-01-07',
    '2026-01-08',
    '2026-01-09',
    '2026-01-10',
    '2026-01-11',
  ];
  if (mains.length > 0)
    for (const date of week)
      for (let minute = 0; minute < 1440; minute += 30) {
        const air = airAt(supply, {
          date,
          minute,
          hasPower: true,
          lost: new Set(),
          coils: new Map(),
          ahead: new Map(),
        });
        for (const { id, lowMeans, highMeans } of mains) {
          const state = air.get(id)?.state ?? null;
          const means = state === null ? null : state === 'low' ? lowMeans : highMeans;
          isOff.get(id)?.push(means === 'unoccupied');
        }
      }
  return new Map(
    [...isOff].flatMap(([id, halves]) => {
      const periods = offPeriods(halves);
      // All of the week one state: nothing switches it, or it is shut.
      return periods.length === 0 || periods[0].hours === 168 ? [] : [[id, periods] as const];
    }),
  );
}

function stateOf(
  { points, toleranceMilli, side }: Walked,
  unit: TemperatureUnit,
  today: PlainDate,
): Pick<PointState, 'nowDegF' | 'isTrended' | 'visits' | 'toleranceDegF'> {
  const inDegF = (value: number): number => convertTemperatureDifference(value, unit, 'degF');
  const { standing, standingOn, firstOn, trend, isAdjusted, rate, median } = driftStatistics(
    points,
    toleranceMilli,
    { side },
  );
  const isTrended = trend === 'rises' || trend === 'falls';
  const slope = !isTrended ? 0 : isAdjusted ? (rate?.rate ?? 0) : (median?.slope ?? 0);
  // A trend is not carried further than it is known.
  const known = standingOn === null || firstOn === null ? 0 : julianYearsBetween(firstOn, standingOn);
  const since = standingOn === null ? 0 : Math.min(known, Math.max(0, julianYearsBetween(standingOn, today)));
  return {
    nowDegF: standing === null ? null : inDegF(standing + slope * since),
    isTrended,
    toleranceDegF: inDegF(fromMilli(toleranceMilli)),
    visits: points.flatMap((point) =>
      point.isBeforeService || point.supplyFlagged
        ? []
        : [
            {
              on: point.date,
              found:
                point.found === null || point.found.relation !== '='
                  ? null
                  : inDegF(fromMilli(point.found.milli)),
              left: point.leftMilli === null ? null : inDegF(fromMilli(point.leftMilli)),
            },
          ],
    ),
  };
}

function zoneOf(
  row: Awaited<ReturnType<typeof zoneControllers>>[number],
  points: Map<string, PointState>,
  {
    settings,
    building,
    week,
  }: { settings: EnergySettings; building: BuildingFigures | null; week: WeekOff | null },
): ZoneFacts | null {
  const day = dayPoint(points) ?? points.get('cooling');
  if (!day) return null;
  const night = points.get('unoccupied');
  const area = known(row.served_area_ft2_milli);
  const floor = known(building?.floor_area_ft2_milli);
  const loss = known(building?.heat_loss_btu_hf_milli);
  const gain = known(building?.gain_btu_h_milli);
  const share = area === null || !floor ? null : area / floor;
  const isGainKnown = loss !== null && loss > 0 && gain !== null;
  const gainDegF = isGainKnown ? gain / loss : settings.balanceBelowDegF;
  const nightGain = known(building?.night_gain_btu_h_milli);
  const cooling = known(building?.cooling_kwh_year_milli);
  return {
    deviceId: row.id,
    tag: row.tag,
    building: row.building,
    main: row.main,
    zone: {
      dayDegF: day.dialDegF,
      nightDegF: night?.dialDegF ?? null,
      gainDegF,
      nightGainDegF: nightGain !== null && loss ? nightGain / loss : gainDegF * NIGHT_SHARE,
      tau: known(building?.time_constant_h_milli) ?? USUAL_TAU,
      week: week ?? USUAL_WEEK,
    },
    isWeekKnown: week !== null,
    isGainKnown,
    k: share === null || !loss ? null : loss * share,
    efficiency: known(building?.heating_efficiency_milli),
    coolingKwh: cooling === null || share === null ? null : cooling * share,
    points,
  };
}

/** Visits that say something of a period: those in it, the last one before and the first one after. Of a long history that is little. */
function visitsAbout(visits: readonly VisitError[], { from, to }: Period): VisitError[] {
  const first = visits.findLastIndex((visit) => visit.on <= from);
  const after = visits.findIndex((visit) => visit.on > to);
  return visits.slice(Math.max(0, first), after < 0 ? undefined : after + 1);
}

/**
 * Everything that a ranking or a baseline needs: as it stands today, and what is known of a period. Histories are read a
 * stretch at a time. Throws `cancelled`.
 */
export async function energyFacts(
  db: BookDb,
  { today, period }: { today: PlainDate; period: Period },
  hooks: JobHooks,
): Promise<EnergyFacts> {
  hooks.progress(0, 1, 'reading the register');
  const { value: settings } = await energySettingsOf(db);
  const weather = await weatherOf(db, settings);
  const network = await airNetwork(db);
  const buildings = await buildingFigures(db);
  const weeks = weeksOfMains(network);
  const efforts = new Map((await setpointEfforts(db)).map((row) => [row.id, row]));
  const rows = (await driftPointsQuery(db, { ...everywhere, kind: 'setpoint' }).execute()).filter(
    ({ active, retiredOn }) => active === 1 && retiredOn === null,
  );
  const byController = new Map<number, Map<string, PointState>>();
  for (const { id, deviceId, role, unit, dialMilli, own, ofClass } of efforts.values()) {
    if (!isTemperature(unit)) continue;
    const points = byController.get(deviceId) ?? new Map<string, PointState>();
    byController.set(deviceId, points);
    points.set(role, {
      testPointId: id,
      role,
      dialDegF: convertTemperature(fromMilli(dialMilli), unit, 'degF'),
      toleranceDegF: 0,
      minutes: own ?? ofClass,
      nowDegF: null,
      isTrended: false,
      visits: [],
    });
  }
  const onStretch = (done: number): void => {
    if (hooks.cancelled()) throw new AppError('cancelled', 'Cancelled; the book is as it was.');
    hooks.progress(done, rows.length, 'reading histories');
  };
  for await (const stretch of historiesByStretch(db, rows, { upTo: today, onStretch }))
    for (const walked of stretch) {
      const { row } = walked;
      const point = byController.get(row.deviceId)?.get(row.role);
      if (!point || !isTemperature(row.unit)) continue;
      const state = stateOf(walked, row.unit, today);
      Object.assign(point, { ...state, visits: visitsAbout(state.visits, period) });
    }
  const zones: ZoneFacts[] = [];
  let noZone = 0;
  for (const row of await zoneControllers(db)) {
    const points = byController.get(row.id);
    if (row.controller_kind === 'receiver' || row.controller_kind === 'humidity') {
      noZone += points?.size ?? 1;
      continue;
    }
    if (!points) continue;
    const zone = zoneOf(row, points, {
      settings,
      building: row.building === null ? null : (buildings.get(row.building) ?? null),
      week: row.main_id === null ? null : (weeks.get(row.main_id) ?? null),
    });
    if (zone) zones.push(zone);
  }
  return { settings, weather, climate: weather && climateOf(weather), network, zones, noZone };
}
