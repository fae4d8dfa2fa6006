/** Records of a scope in the order of their ids, in pieces: memory holds one piece at a time. */
import type { BookDb } from '../../db/book.ts';
import { namesOfRecord } from '../../db/records.ts';
import type { Unit } from '../../shared/units/units.ts';
import type { Resolved } from './scope.ts';
import { isWithin } from './tables/cells.ts';

const PIECE = 250;

/** What a record was judged by, as it keeps it, whether a card made it or a file. */
export type Basis = {
  action: string | null;
  throttlingRangeMilli: number | null;
  outputLowMilli: number | null;
  outputHighMilli: number | null;
  calibrationPressureMilli: number | null;
  nominalMilli: number | null;
  toleranceMilli: number | null;
  isRepaired: boolean;
  /** Unit of its pressures, and of its scale. */
  pressureUnit: string | null;
  temperatureUnit: string | null;
};

type Held = Partial<{
  facts: Partial<Record<string, unknown>> & {
    points?: { testPointId: number; toleranceMilli: number; nominalMilli?: number | null }[];
  };
  ticks: { repaired?: boolean };
}> &
  Partial<Record<string, unknown>>;

function numberOf(...values: unknown[]): number | null {
  const found = values.find((value) => typeof value === 'number');
  return typeof found === 'number' ? found : null;
}

function textOf(...values: unknown[]): string | null {
  const found = values.find((value) => typeof value === 'string');
  return typeof found === 'string' ? found : null;
}

function basisOf(json: string, testPointId: number): Basis {
  const held = JSON.parse(json) as Held;
  const facts = held.facts ?? {};
  const own = facts.points?.find((point) => point.testPointId === testPointId);
  return {
    action: textOf(facts.action, held.action),
    throttlingRangeMilli: numberOf(facts.throttlingRangeMilli, held.throttlingRangeMilli),
    outputLowMilli: numberOf(facts.outputLowMilli, held.outputLowMilli),
    outputHighMilli: numberOf(facts.outputHighMilli, held.outputHighMilli),
    calibrationPressureMilli: numberOf(facts.calibrationPressureMilli, held.calibrationPressureMilli),
    nominalMilli: numberOf(facts.dialMilli, held.dialMilli, held.nominalMilli),
    toleranceMilli: numberOf(own?.toleranceMilli, held.toleranceMilli),
    isRepaired: held.ticks?.repaired === true,
    pressureUnit: textOf(facts.pressureUnit, held.pressureUnit),
    temperatureUnit: textOf(facts.scaleUnit, facts.temperatureUnit, held.temperatureUnit),
  };
}

/** Replacements of a scope, oldest first: they close the series of a device. */
export async function replacementsIn(db: BookDb, resolved: Resolved) {
  const { deviceIds } = resolved;
  const rows = await db
    .selectFrom('replacement as r')
    .innerJoin('device as d', 'd.id', 'r.device_id')
    .select(['r.id', 'r.device_id', 'r.on_date', 'r.reason', 'd.tag'])
    .orderBy('r.on_date')
    .orderBy('r.id')
    .execute();
  return rows.filter(
    ({ device_id, on_date }) =>
      (deviceIds === null || deviceIds.has(device_id)) && isWithin(on_date, resolved),
  );
}

async function recordRows(db: BookDb, after: number) {
  return db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .innerJoin('person as p', 'p.id', 'c.person_id')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .leftJoin('gauge as pg', 'pg.id', 'c.pressure_gauge_id')
    .leftJoin('gauge as tg', 'tg.id', 'c.temperature_gauge_id')
    .leftJoin('correction as x', 'x.replaced_id', 'c.id')
    .leftJoin('correction as y', 'y.replacement_id', 'c.id')
    .innerJoin('ledger as g', (join) =>
      join.on('g.kind', '=', 'calibration').onRef('g.record_id', '=', 'c.id'),
    )
    .selectAll('c')
    .select(['d.id as deviceId', 'd.tag', 'd.pressure_unit', 'tp.kind', 'tp.role', 'p.initials'])
    .select(['b.code as building', 'l.code as level', 'r.code as room', 'm.tag as main'])
    .select(['pg.tag as pressureGauge', 'tg.tag as temperatureGauge'])
    .select([
      'x.replacement_id as supersededBy',
      'y.replaced_id as supersedes',
      'y.reason as correctionReason',
      'x.reason as supersededWhy',
    ])
    .select(['g.seq', 'g.hash'])
    .where('c.id', '>', after)
    .orderBy('c.id')
    .limit(PIECE)
    .execute();
}

type Row = Awaited<ReturnType<typeof recordRows>>[number];
export type ReadingOf = {
  calibration_id: number;
  position: number;
  phase: string;
  quantity: string;
  value_milli: number | null;
  value_text: string | null;
  unit: Unit;
  air_state: string | null;
};
export type PackRecord = Omit<Row, 'snapshot_json'> & {
  basis: Basis;
  readings: ReadingOf[];
  isReplaced: boolean;
  /** Names as they stood when it was made. */
  tagOfDay: string;
  personOfDay: string;
};

function isIn({ scope, pointIds }: Resolved, row: { test_point_id: number; done_on: string }): boolean {
  return (
    (pointIds === null || pointIds.has(row.test_point_id)) &&
    (scope.from === null || row.done_on >= scope.from) &&
    (scope.to === null || row.done_on <= scope.to)
  );
}

/** Records with their readings. */
export async function* recordsIn(
  db: BookDb,
  resolved: Resolved,
  replacements: ReadonlyMap<number, ReadonlySet<string>>,
  onPiece: (lastId: number) => void,
): AsyncGenerator<PackRecord[]> {
  let after = 0;
  for (;;) {
    const rows = await recordRows(db, after);
    const last = rows.at(-1);
    if (!last) return;
    after = last.id;
    onPiece(after);
    const wanted = rows.filter((row) => isIn(resolved, row));
    if (wanted.length === 0) continue;
    const readings = (await db
      .selectFrom('reading')
      .select([
        'calibration_id',
        'position',
        'phase',
        'quantity',
        'value_milli',
        'value_text',
        'unit',
        'air_state',
      ])
      .where('calibration_id', '>=', wanted[0].id)
      .where('calibration_id', '<=', wanted[wanted.length - 1].id)
      .orderBy('calibration_id')
      .orderBy('position')
      .execute()) as ReadingOf[];
    const byRecord = new Map<number, ReadingOf[]>();
    for (const reading of readings) {
      const own = byRecord.get(reading.calibration_id);
      if (own) own.push(reading);
      else byRecord.set(reading.calibration_id, [reading]);
    }
    yield wanted.map(({ snapshot_json, ...row }) => {
      const names = namesOfRecord(snapshot_json);
      return {
        ...row,
        tagOfDay: names?.tag ?? row.tag,
        personOfDay: names?.initials ?? row.initials,
        basis: basisOf(snapshot_json, row.test_point_id),
        readings: byRecord.get(row.id) ?? [],
        isReplaced: replacements.get(row.deviceId)?.has(row.done_on) ?? false,
      };
    });
  }
}
