/** `retrofit.quantities`: what a change to digital control would take, keep and shed, by what the register and the records say. */
import { airNetwork } from '../../db/airNetwork.ts';
import type { BookDb } from '../../db/book.ts';
import { stationPower } from '../../db/energy.ts';
import { driftPointsQuery, everywhere } from '../../db/driftPoints.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { RetrofitQuantities } from '../../shared/contract/retrofit.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { LOSS_DOUBT } from '../../shared/energy/band.ts';
import { budgetOf } from '../../shared/register/air/stationUse.ts';
import { actuatorsOf, downstreamOf, mainOf } from '../../shared/register/findings/network.ts';
import type { AirNetwork, ControllerNode } from '../../shared/register/findings/network.ts';
import { partsOf, retrofitOptions, sumOfParts, unitKindOf, unitKinds } from '../../shared/retrofit/units.ts';
import type { Parts, RetrofitOption, UnitFacts, UnitKind } from '../../shared/retrofit/units.ts';
import { bleedDefaults } from '../../shared/trade/air/budget.ts';
import type { Bleed } from '../../shared/trade/air/budget.ts';
import { TYPICAL_KW_PER_SCFM, energyOfFlow } from '../../shared/trade/air/cost.ts';
import { SCIM_PER_SCFM } from '../../shared/trade/air/flow.ts';
import { convertTemperatureDifference, fromMilli } from '../../shared/units/units.ts';
import type { JobHandler, JobHooks } from '../context.ts';
import { historiesByStretch } from '../drift/walk.ts';
import { resolveScope, scopeWords } from '../evidence/scope.ts';
import type { PackScope, Resolved } from '../evidence/scope.ts';
import { distributionOf, medianOf } from './distributions.ts';

type Place = { building: string | null; room: string | null };
type Unit = { building: string | null; kind: UnitKind; facts: UnitFacts };

const cautions = [
  'Points a unit are common practice for a first estimate; a survey and a designer settle them.',
  'Actuators that stay pneumatic inherit wet and oily air: look at the station first.',
  'Transducers: from one a branch, where the springs keep the sequence, to one an actuator.',
  'Only full removal sheds all of the air; a radio thermostat still bleeds, by its own sheet.',
  'Savings depend on what was broken: with small errors and a working night, conversion saves little in setpoints.',
  'Asbestos, power and space above ceilings are not in the register: ask before anything is opened.',
];

async function placesOf(db: BookDb): Promise<Map<number, Place>> {
  const rows = await db
    .selectFrom('device as d')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .select(['d.id', 'b.code as building', 'r.code as room'])
    .execute();
  return new Map(rows.map(({ id, building, room }) => [id, { building, room }]));
}

async function accessOf(db: BookDb, isIn: (id: number) => boolean): Promise<RetrofitQuantities['access']> {
  const rooms = await db
    .selectFrom('room as r')
    .innerJoin('building as b', 'b.id', 'r.building_id')
    .select(['r.id', 'r.code', 'r.note', 'b.code as building'])
    .orderBy('b.code')
    .orderBy('r.code')
    .execute();
  const windows = new Map<number, string[]>();
  for (const row of await db
    .selectFrom('access_window')
    .selectAll()
    .orderBy('room_id')
    .orderBy('position')
    .execute())
    windows.set(row.room_id, [
      ...(windows.get(row.room_id) ?? []),
      `${row.weekdays} ${row.from_time}-${row.to_time}`,
    ]);
  const devices = new Map<number, number>();
  for (const { id, room_id } of await db
    .selectFrom('device')
    .select(['id', 'room_id'])
    .where('retired_on', 'is', null)
    .where('room_id', 'is not', null)
    .execute())
    if (isIn(id)) devices.set(room_id as number, (devices.get(room_id as number) ?? 0) + 1);
  return rooms.flatMap(({ id, code, note, building }) => {
    const own = windows.get(id)?.join(', ') ?? '';
    const count = devices.get(id) ?? 0;
    return count === 0 || (own === '' && note === '')
      ? []
      : [{ place: `${building} / ${code}`, windows: own, note, devices: count }];
  });
}

function counted(words: readonly string[]): { what: string; count: number }[] {
  const counts = new Map<string, number>();
  for (const what of words) counts.set(what, (counts.get(what) ?? 0) + 1);
  return [...counts]
    .map(([what, count]) => ({ what, count }))
    .toSorted((a, b) => a.what.localeCompare(b.what));
}

const classWords: Record<string, string> = {
  air_station: 'air stations',
  regulator: 'regulators',
  switchover_relay: 'switchover relays',
  time_switch: 'time switches',
  main: 'mains',
  transmitter: 'transmitters',
};

function inventoryOf(network: AirNetwork, isIn: (id: number) => boolean): RetrofitQuantities['inventory'] {
  return counted(
    [...network.nodes.values()].flatMap((node) => {
      if (!isIn(node.id)) return [];
      if (node.class === 'controller') {
        const actions = [...new Set(node.setpoints.map(({ action }) => action))].toSorted().join(' and ');
        return [
          `controllers, ${node.kind}, ${node.pipes === null ? 'pipes not known' : `${node.pipes}-pipe`}, ${actions || 'action not known'}`,
        ];
      }
      if (node.class === 'actuator')
        return [
          `actuators, ${node.duty ?? 'duty not known'}, normally ${node.normal}`,
          ...(node.positioner === 'yes' ? ['positioners'] : []),
        ];
      if (node.class === 'main') return [`mains, ${node.kind}`];
      if (node.class === 'regulator') return [`regulators, ${node.kind}`];
      return [classWords[node.class]];
    }),
  );
}

type Kinds = ReadonlyMap<number, 'valve' | 'damper'>;

function factsOf(network: AirNetwork, controller: ControllerNode, kinds: Kinds): UnitFacts {
  return {
    controllerKind: controller.kind,
    actuators: actuatorsOf(network, controller).map(({ id, duty }) => ({
      kind: kinds.get(id) ?? 'valve',
      duty,
    })),
  };
}

function unitsOf(
  network: AirNetwork,
  { places, kinds }: { places: ReadonlyMap<number, Place>; kinds: Kinds },
  isIn: (id: number) => boolean,
): Unit[] {
  return [...network.nodes.values()].flatMap((node): Unit[] => {
    if (node.class !== 'controller' || !isIn(node.id)) return [];
    const facts = factsOf(network, node, kinds);
    return [{ building: places.get(node.id)?.building ?? null, kind: unitKindOf(facts), facts }];
  });
}

const everyOption = <T>(of: (option: RetrofitOption) => T): Record<RetrofitOption, T> =>
  Object.fromEntries(retrofitOptions.map((option) => [option, of(option)])) as Record<RetrofitOption, T>;

function groupsOf(units: readonly Unit[]): RetrofitQuantities['units'] {
  const groups = Map.groupBy(units, ({ building, kind }) => JSON.stringify([building, kind]));
  return [...groups.values()]
    .map((own) => ({
      building: own[0].building,
      kind: own[0].kind,
      units: own.length,
      actuators: own.reduce((sum, { facts }) => sum + facts.actuators.length, 0),
      options: everyOption((option): Parts => sumOfParts(own.map(({ facts }) => partsOf(facts, option)))),
    }))
    .toSorted(
      (a, b) =>
        (a.building ?? '').localeCompare(b.building ?? '') ||
        unitKinds.indexOf(a.kind) - unitKinds.indexOf(b.kind),
    );
}

const times = ({ low, typical, high }: Bleed, by: { low: number; high: number }): Bleed => ({
  low: low * by.low,
  typical: (typical * (by.low + by.high)) / 2,
  high: high * by.high,
});

/** What each station carries now, and would still carry. */
function stationsOf(
  network: AirNetwork,
  power: ReadonlyMap<number, number>,
  kinds: Kinds,
): RetrofitQuantities['stations'] {
  return [...network.nodes.values()].flatMap((station) => {
    if (station.class !== 'air_station') return [];
    const below = downstreamOf(network, station);
    const now = budgetOf(network, station).scim;
    const kept = sumOfParts(
      below.flatMap((node) =>
        node.class === 'controller' ? [partsOf(factsOf(network, node, kinds), 'keep actuators')] : [],
      ),
    );
    const positioners = below.filter((node) => node.class === 'actuator' && node.positioner === 'yes').length;
    const own = times(bleedDefaults.positioner, { low: positioners, high: positioners });
    const transducers = times(bleedDefaults['transducer, non-bleed'], kept.transducers);
    const bleeding = times(bleedDefaults['transducer, bleed'], kept.transducers);
    const left: Record<RetrofitOption, Bleed | null> = {
      'keep actuators': {
        low: own.low + transducers.low,
        typical: own.typical + transducers.typical,
        high: own.high + bleeding.high,
      },
      'full electric': { low: 0, typical: 0, high: 0 },
      'thermostats only': null,
    };
    const kw = power.get(station.id) ?? TYPICAL_KW_PER_SCFM;
    const kwh = (scim: number): number => energyOfFlow(Math.max(0, scim) / SCIM_PER_SCFM, kw);
    const words = [
      ...(station.dewPoint === null
        ? ['dew point never read']
        : [
            `dew point ${station.dewPoint.degF.toFixed(0)} °F at ${station.dewPoint.psi.toFixed(0)} psi, ${station.dewPoint.on}`,
          ]),
      station.oil === null ? 'oil never measured' : `oil ${station.oil.value} mg/m³, ${station.oil.on}`,
      `kW a scfm ${kw.toFixed(2)}${power.has(station.id) ? '' : ' (usual)'}`,
    ];
    return [
      {
        tag: station.tag,
        now,
        left,
        shedKwh: everyOption((option) => {
          const rest = left[option];
          return rest === null
            ? null
            : {
                low: kwh(now.low - rest.high) * (1 - LOSS_DOUBT),
                central: kwh(now.typical - rest.typical),
                high: kwh(now.high - rest.low) * (1 + LOSS_DOUBT),
              };
        }),
        words,
      },
    ];
  });
}

async function distributionsOf(
  db: BookDb,
  { pointIds, scope }: Resolved,
  hooks: JobHooks,
): Promise<RetrofitQuantities['distributions']> {
  const rows = (await driftPointsQuery(db, { ...everywhere, kind: 'setpoint' }).execute()).filter(
    ({ id, active, retiredOn, unit }) =>
      active === 1 && retiredOn === null && unit !== 'percent' && (pointIds === null || pointIds.has(id)),
  );
  const newest: number[] = [];
  const inPeriod: number[] = [];
  const rates: number[] = [];
  const onStretch = (done: number): void => {
    if (hooks.cancelled()) throw new AppError('cancelled', 'Cancelled; the book is as it was.');
    hooks.progress(done, rows.length, 'reading histories');
  };
  for await (const stretch of historiesByStretch(db, rows, { upTo: scope.to, onStretch }))
    for (const { row, points } of stretch) {
      const inDegF = (value: number): number =>
        convertTemperatureDifference(value, row.unit as 'degF' | 'degC', 'degF');
      const used = points.filter(
        (point) => point.found?.relation === '=' && !point.supplyFlagged && !point.isBeforeService,
      );
      const errors = used.map((point) => inDegF(fromMilli(point.found?.milli ?? 0)));
      const last = errors.at(-1);
      if (last !== undefined) newest.push(last);
      for (const [index, point] of used.entries())
        if (scope.from === null || point.date >= scope.from) inPeriod.push(errors[index]);
      for (const { ratePerYear, driftFlagged } of points)
        if (ratePerYear !== null && !driftFlagged) rates.push(inDegF(ratePerYear));
    }
  return {
    newest: distributionOf(newest),
    period: distributionOf(inPeriod),
    drift: { median: medianOf(rates), count: rates.length },
  };
}

/** Quantities of a part of the site. Throws `invalid_input` for a scope that cannot be, `cancelled`. */
export async function retrofitQuantitiesOf(
  db: BookDb,
  scope: PackScope,
  today: PlainDate,
  hooks: JobHooks,
): Promise<RetrofitQuantities> {
  hooks.progress(0, 1, 'reading the register');
  const resolved = await resolveScope(db, scope);
  const isIn = (id: number): boolean => resolved.deviceIds === null || resolved.deviceIds.has(id);
  const network = await airNetwork(db);
  const places = await placesOf(db);
  const kinds = new Map(
    (await db.selectFrom('actuator').select(['device_id', 'actuator_kind']).execute()).map((row) => [
      row.device_id,
      row.actuator_kind,
    ]),
  );
  const units = unitsOf(network, { places, kinds }, isIn);
  const controllerOf = new Map<number, string>();
  for (const node of network.nodes.values())
    if (node.class === 'controller') for (const id of node.fed) controllerOf.set(id, node.tag);
  const actuators = [...network.nodes.values()].flatMap((node): RetrofitQuantities['actuators'] =>
    node.class !== 'actuator' || !isIn(node.id)
      ? []
      : [
          {
            deviceId: node.id,
            tag: node.tag,
            controller: controllerOf.get(node.id) ?? null,
            building: places.get(node.id)?.building ?? null,
            room: places.get(node.id)?.room ?? null,
            kind: kinds.get(node.id) ?? '',
            duty: node.duty,
            normalPosition: node.normal,
            positioner: node.positioner,
            springStart: node.start.nominal,
            springEnd: node.end.nominal,
            measuredStart: node.start.measured,
            measuredEnd: node.end.measured,
          },
        ],
  );
  const inScope = [...network.nodes.values()].filter((node) => isIn(node.id));
  const tubing = counted(
    inScope.flatMap((node) =>
      node.class === 'controller'
        ? [
            `${node.pipes === null ? 'pipes not known' : `${node.pipes}-pipe controllers`}${mainOf(network, node) === null ? ', on no main' : ''}`,
          ]
        : [],
    ),
  );
  const groups = groupsOf(units);
  return {
    on: today,
    scope: scopeWords(scope),
    units: groups,
    totals: everyOption((option) => sumOfParts(groups.map(({ options }) => options[option]))),
    inventory: inventoryOf(network, isIn),
    actuators: actuators.toSorted((a, b) => a.tag.localeCompare(b.tag)),
    unmeasured: actuators.filter((one) => one.measuredStart === null || one.measuredEnd === null).length,
    tubing,
    access: await accessOf(db, isIn),
    stations: stationsOf(network, await stationPower(db), kinds),
    distributions: await distributionsOf(db, resolved, hooks),
    cautions,
  };
}

export const quantitiesJob: JobHandler<'retrofit.quantities'> = async ({ book, clock }, scope, hooks) =>
  retrofitQuantitiesOf(book.reader, scope, clock.today(), hooks);
