/** The sheet of one air station: what it has to carry, how it runs, how dry its air is, its tests and its leaks. */
import { airNetwork } from '../../db/airNetwork.ts';
import { airTestsOf, allLeaks } from '../../db/airRecords.ts';
import type { StoredAirTest } from '../../db/airRecords.ts';
import type { BookDb } from '../../db/book.ts';
import { replacementDays } from '../../db/drift.ts';
import { gaugeTags } from '../../db/gauges.ts';
import { measuredCapacities, newestQuality } from '../../db/stationFacts.ts';
import { idsAbove, idsBelow } from '../../db/supplyPath.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { AirTest, Leak, StationSheet } from '../../shared/contract/stations.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { budgetOf } from '../../shared/register/air/stationUse.ts';
import { bestOf, downstreamOf } from '../../shared/register/findings/network.ts';
import type { AirNetwork, MainNode, Measured, StationNode } from '../../shared/register/findings/network.ts';
import { LEAST_LINE_PSI } from '../../shared/register/findings/stationRules.ts';
import type { Bleed } from '../../shared/trade/air/budget.ts';
import { unexplained } from '../../shared/trade/air/budget.ts';
import { energyOfRunning } from '../../shared/trade/air/cost.ts';
import { atmosphereAt, scfmOf } from '../../shared/trade/air/flow.ts';
import { dewPointMoved } from '../../shared/trade/air/humidity.ts';
import { qualityClass } from '../../shared/trade/air/quality.ts';
import { mostDewPoint } from '../../shared/trade/dewPoint.ts';
import { convertTemperature, fromMilli } from '../../shared/units/units.ts';
import { readingsOfStored, resultOfStored } from './facts.ts';
import { stationTrends, stationVisits } from './trends.ts';

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
        readings: readingsOfStored(test.readings),
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
  return (await allLeaks(db))
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
      replacedBy: row.replacedBy,
      goneOn: row.retired_on,
    }));
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

/** A station that is out of service feeds nothing, and holds what it was. */
function goneStation(
  id: number,
  { tag, capacityMilli, measured }: { tag: string; capacityMilli: number | null; measured: Measured | null },
): StationNode {
  return {
    id,
    tag,
    class: 'air_station',
    inServiceOn: null,
    feeders: [],
    fed: [],
    ownBleed: null,
    capacity: { nominal: capacityMilli === null ? null : fromMilli(capacityMilli), measured },
    coldestDegF: null,
    dewPoint: null,
    run: null,
    oil: null,
    particle: null,
  };
}

/** The station before, and the one after. */
async function relativesOf(db: BookDb, deviceId: number): Promise<StationSheet['relatives']> {
  const rows = await db
    .selectFrom('replacement as r')
    .innerJoin('device as o', 'o.id', 'r.device_id')
    .innerJoin('device as n', 'n.id', 'r.new_device_id')
    .select(['r.on_date', 'o.id as oldId', 'o.tag as oldTag', 'n.id as newId', 'n.tag as newTag'])
    .where((eb) => eb.or([eb('r.device_id', '=', deviceId), eb('r.new_device_id', '=', deviceId)]))
    .orderBy('r.id')
    .execute();
  return rows.map(({ on_date, oldId, oldTag, newId, newTag }) =>
    newId === deviceId
      ? { id: oldId, tag: oldTag, words: `stands since ${on_date} in the place of` }
      : { id: newId, tag: newTag, words: `was replaced on ${on_date} by` },
  );
}

/** Stations that feed some of what is below a station, too. */
async function otherFeeders(db: BookDb, below: readonly number[]): Promise<string[]> {
  const own = new Set(below);
  const links = await db.selectFrom('supplies').select(['from_id', 'to_id']).execute();
  const from = [
    ...new Set(links.flatMap(({ from_id, to_id }) => (own.has(to_id) && !own.has(from_id) ? [from_id] : []))),
  ];
  const stations = new Set<string>();
  for (const id of from)
    for (const { tag } of await db
      .selectFrom('device')
      .select('tag')
      .where('class', '=', 'air_station')
      .where('retired_on', 'is', null)
      .where('id', 'in', await idsAbove(db, id))
      .execute())
      stations.add(tag);
  return [...stations].toSorted();
}

function times({ low, typical, high }: Bleed, factor: number): Bleed {
  return { low: low * factor, typical: typical * factor, high: high * factor };
}

/** The station with everything below it; of one that is retired what it was. Throws `not_found` on any other device. */
export async function stationSheet(db: BookDb, deviceId: number, today: PlainDate): Promise<StationSheet> {
  const row = await db
    .selectFrom('device as d')
    .innerJoin('air_station as s', 's.device_id', 'd.id')
    .leftJoin('test_point as tp', (join) =>
      join.onRef('tp.device_id', '=', 'd.id').on('tp.kind', '=', 'dew point'),
    )
    .selectAll('s')
    .select([
      'd.tag',
      'd.name',
      'd.pressure_unit',
      'd.temperature_unit',
      'd.retired_on',
      'tp.id as dewPointId',
    ])
    .where('d.id', '=', deviceId)
    .executeTakeFirst();
  if (!row) throw new AppError('not_found', 'There is no such air station in the book.');
  const below = await idsBelow(db, deviceId);
  const network = await airNetwork(db, below);
  const station =
    (network.nodes.get(deviceId) as StationNode | undefined) ??
    goneStation(deviceId, {
      tag: row.tag,
      capacityMilli: row.capacity_scfm_milli,
      measured: (await measuredCapacities(db)).get(deviceId) ?? null,
    });
  const tests = await airTestsOf(db, deviceId);
  const visits = await stationVisits(db, deviceId);
  const leaks = await leaksBelow(db, new Set(below));
  const particles = (await newestQuality(db, 'particles of 1 to 5 um')).get(deviceId) ?? null;
  const replacedOn = (await replacementDays(db, { deviceId })).get(deviceId) ?? new Set();

  const { value: capacity } = bestOf(station.capacity);
  const atmospherePsi = atmosphereAt(row.altitude_ft ?? 0);
  const budget = budgetOf(network, station);
  const { run } = station;
  const runScfm = run && capacity !== null ? run.share * capacity : null;
  const motorKw = row.motor_kw_milli === null ? null : fromMilli(row.motor_kw_milli);
  const mostDegF = mostDewPoint(station.coldestDegF);
  const dew = station.dewPoint;
  const isAtLine = dew !== null && dew.psi >= LEAST_LINE_PSI;
  const open = leaks.filter(
    ({ mended, replacedBy, goneOn }) => mended === null && replacedBy === null && goneOn === null,
  );
  const sum = (of: keyof Bleed): number => open.reduce((total, { flow }) => total + flow[of], 0);
  const temperatureUnit = row.temperature_unit ?? 'degF';
  const pressureUnit = row.pressure_unit ?? 'psi';
  return {
    id: deviceId,
    tag: row.tag,
    name: row.name,
    retiredOn: row.retired_on,
    relatives: await relativesOf(db, deviceId),
    sharedWith: await otherFeeders(db, below),
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
        largestUm: station.particle?.value ?? null,
        dewPointDegC: isAtLine ? convertTemperature(dew.degF, 'degF', 'degC') : null,
        oilMg: station.oil?.value ?? null,
      }),
      oilMg: station.oil,
      largestUm: station.particle,
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
