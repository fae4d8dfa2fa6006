/** The sheet of one air station: what it has to carry, how it runs, how dry its air is, its tests and its leaks. */
import { airNetwork } from '../../db/airNetwork.ts';
import { airTestsOf, standingLeaks } from '../../db/airRecords.ts';
import type { StoredAirTest } from '../../db/airRecords.ts';
import type { BookDb } from '../../db/book.ts';
import { replacementDays } from '../../db/drift.ts';
import { gaugeTags } from '../../db/gauges.ts';
import { newestQuality } from '../../db/stationFacts.ts';
import { idsBelow } from '../../db/supplyPath.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { AirTest, Leak, StationSheet } from '../../shared/contract/stations.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { budgetOf } from '../../shared/register/air/stationUse.ts';
import { bestOf, downstreamOf } from '../../shared/register/findings/network.ts';
import type { AirNetwork, MainNode, StationNode } from '../../shared/register/findings/network.ts';
import { LEAST_LINE_PSI } from '../../shared/register/findings/stationRules.ts';
import type { Bleed } from '../../shared/trade/air/budget.ts';
import { unexplained } from '../../shared/trade/air/budget.ts';
import { energyOfRunning } from '../../shared/trade/air/cost.ts';
import { atmosphereAt } from '../../shared/trade/air/flow.ts';
import { dewPointMoved } from '../../shared/trade/air/humidity.ts';
import { qualityClass } from '../../shared/trade/air/quality.ts';
import { mostDewPoint } from '../../shared/trade/dewPoint.ts';
import { convertTemperature, fromMilli } from '../../shared/units/units.ts';
import { resultOfStored, scfmOf } from './facts.ts';
import { shareOfVisit, stationTrends, stationVisits } from './trends.ts';
import type { StationVisit } from './trends.ts';

/** Tests as they are shown, newest first. */
export function testViews(tests: readonly StoredAirTest[], gauges: ReadonlyMap<number, string>): AirTest[] {
  return tests
    .map((test): AirTest => {
      const { cautions, measures, factor, why, others } = resultOfStored(test, test.readings);
      return {
        id: test.id,
        kind: test.kind,
        doneOn: test.done_on,
        person: test.initials,
        gauge: test.pressure_gauge_id === null ? null : (gauges.get(test.pressure_gauge_id) ?? null),
        readings: test.readings.map(({ quantity, value_milli, unit }) => ({
          quantity,
          valueMilli: value_milli,
          unit,
        })),
        measures,
        scfm: test.flow_scim_milli === null ? null : scfmOf(test.flow_scim_milli),
        share: test.share_ppm === null ? null : test.share_ppm / 1_000_000,
        factor,
        why,
        others,
        cautions,
        note: test.note,
        replacesId: test.replaces_id,
        replacedBy: test.replacedBy,
        reason: test.reason,
      };
    })
    .toReversed();
}

async function leaksBelow(db: BookDb, below: ReadonlySet<number>): Promise<Leak[]> {
  return (await standingLeaks(db))
    .filter(({ device_id }) => below.has(device_id))
    .map((row) => ({
      id: row.id,
      deviceId: row.device_id,
      tag: row.tag,
      place: row.place,
      foundOn: row.found_on,
      person: row.initials,
      diameterMicro: row.diameter_micro,
      diameterUnit: row.diameter_unit,
      pressureMilli: row.pressure_milli,
      pressureUnit: row.pressure_unit,
      coefficientMilli: row.coefficient_milli,
      flow: {
        low: scfmOf(row.low_scim_milli),
        typical: scfmOf(row.typical_scim_milli),
        high: scfmOf(row.high_scim_milli),
      },
      note: row.note,
      replacesId: row.replaces_id,
      reason: row.reason,
      mended:
        row.mended_on === null
          ? null
          : { on: row.mended_on, person: row.mendedBy ?? '', note: row.mendedNote ?? '' },
    }));
}

/** The newest share of the time that it ran, of a card or of a test. */
function newestRun(
  visits: readonly StationVisit[],
  tests: readonly StoredAirTest[],
): { share: number; on: PlainDate } | null {
  const shares = [
    ...visits.flatMap((visit) => {
      const share = shareOfVisit(visit);
      return share === null ? [] : [{ share, on: visit.on }];
    }),
    ...tests.flatMap(({ share_ppm, done_on, replacedBy }) =>
      share_ppm === null || replacedBy !== null ? [] : [{ share: share_ppm / 1_000_000, on: done_on }],
    ),
  ];
  return shares.toSorted((a, b) => a.on.localeCompare(b.on)).at(-1) ?? null;
}

function highestOf({ low, high }: MainNode): number {
  return Math.max(bestOf(low).value, high === null ? 0 : bestOf(high).value);
}

/** The station’s air at its mains and in the open: where frost could first form. */
function placesOf(
  network: AirNetwork,
  station: StationNode,
  atmospherePsi: number,
): StationSheet['dryness']['places'] {
  const dew = station.dewPoint;
  if (dew === null) return [];
  const mains = downstreamOf(network, station).filter((node) => node.class === 'main');
  const at = (id: number | null, tag: string, psi: number) => {
    const degC = convertTemperature(dew.degF, 'degF', 'degC');
    const moved = (over: 'ice' | 'water'): number =>
      convertTemperature(
        dewPointMoved(degC, { fromPsi: dew.psi, toPsi: psi, atmospherePsi }, over),
        'degC',
        'degF',
      );
    const frostDegF = moved('ice');
    return {
      id,
      tag,
      psi,
      frostDegF,
      overWaterDegF: moved('water'),
      marginDegF: station.coldestDegF === null ? null : station.coldestDegF - frostDegF,
    };
  };
  return [...mains.map((main) => at(main.id, main.tag, highestOf(main))), at(null, 'free air', 0)];
}

function times({ low, typical, high }: Bleed, factor: number): Bleed {
  return { low: low * factor, typical: typical * factor, high: high * factor };
}

/** The station with everything below it. Throws `not_found` on any other device, and on one that is retired. */
export async function stationSheet(db: BookDb, deviceId: number, today: PlainDate): Promise<StationSheet> {
  const row = await db
    .selectFrom('device as d')
    .innerJoin('air_station as s', 's.device_id', 'd.id')
    .leftJoin('test_point as tp', (join) =>
      join.onRef('tp.device_id', '=', 'd.id').on('tp.kind', '=', 'dew point'),
    )
    .selectAll('s')
    .select(['d.tag', 'd.name', 'd.pressure_unit', 'd.temperature_unit', 'tp.id as dewPointId'])
    .where('d.id', '=', deviceId)
    .where('d.retired_on', 'is', null)
    .executeTakeFirst();
  if (!row) throw new AppError('not_found', 'There is no such air station in service.');
  const below = await idsBelow(db, deviceId);
  const network = await airNetwork(db, below);
  const station = network.nodes.get(deviceId) as StationNode;
  const tests = await airTestsOf(db, deviceId);
  const visits = await stationVisits(db, deviceId);
  const leaks = await leaksBelow(db, new Set(below));
  const particles = (await newestQuality(db, 'particles of 1 to 5 um')).get(deviceId) ?? null;
  const replacedOn = (await replacementDays(db, deviceId)).get(deviceId) ?? new Set();

  const { value: capacity } = bestOf(station.capacity);
  const atmospherePsi = atmosphereAt(row.altitude_ft ?? 0);
  const budget = budgetOf(network, station);
  const run = newestRun(visits, tests);
  const runScfm = run && capacity !== null ? run.share * capacity : null;
  const motorKw = row.motor_kw_milli === null ? null : fromMilli(row.motor_kw_milli);
  const mostDegF = mostDewPoint(station.coldestDegF);
  const dew = station.dewPoint;
  const isAtLine = dew !== null && dew.psi >= LEAST_LINE_PSI;
  const open = leaks.filter(({ mended }) => mended === null);
  const sum = (of: keyof Bleed): number => open.reduce((total, { flow }) => total + flow[of], 0);
  const temperatureUnit = row.temperature_unit ?? 'degF';
  const pressureUnit = row.pressure_unit ?? 'psi';
  return {
    id: deviceId,
    tag: row.tag,
    name: row.name,
    pressureUnit,
    temperatureUnit,
    dewPointId: row.dewPointId,
    capacity: station.capacity,
    receiverGal: row.receiver_gal_milli === null ? null : fromMilli(row.receiver_gal_milli),
    motorKw,
    altitudeFt: row.altitude_ft,
    atmospherePsi,
    budget: {
      ...budget,
      share: capacity === null || capacity === 0 ? null : times(budget.scfm, 1 / capacity),
    },
    run: run && {
      ...run,
      scfm: runScfm,
      kwhAYear: motorKw === null ? null : energyOfRunning(motorKw, run.share),
    },
    unexplained:
      run === null || capacity === null
        ? null
        : {
            low: unexplained(capacity, run.share, budget.scfm.high),
            typical: unexplained(capacity, run.share, budget.scfm.typical),
            high: unexplained(capacity, run.share, budget.scfm.low),
          },
    dryness: {
      coldestDegF: station.coldestDegF,
      mostDegF,
      dewPoint: dew && { ...dew, isAtLine },
      places: placesOf(network, station, atmospherePsi),
    },
    quality: {
      designation: qualityClass({
        particles: particles?.value ?? null,
        dewPointDegC: isAtLine ? convertTemperature(dew.degF, 'degF', 'degC') : null,
        oilMg: station.oil?.mg ?? null,
      }),
      oilMg: station.oil && { value: station.oil.mg, on: station.oil.on },
      largestUm: station.particle && { value: station.particle.um, on: station.particle.on },
      particles,
    },
    trends: stationTrends(visits, tests, {
      today,
      replacedOn,
      pressureUnit,
      temperatureUnit,
      capacity,
      use: budget.scfm.typical,
      mostDewPointDegF: mostDegF,
      atmospherePsi,
    }),
    tests: testViews(tests, await gaugeTags(db)),
    leaks,
    openLeaks: { count: open.length, low: sum('low'), typical: sum('typical'), high: sum('high') },
  };
}
