/**
 * What only the register as a whole can tell: doubled tags, places and feeders that do not exist, supply
 * loops, setpoints without a controller. Works on the book's index with the new rows laid over it.
 */
import type { RegisterIndex } from '../../db/registerIndex.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import { isDeviceClass, rolesOfController } from '../../shared/register/columns.ts';
import { rowKey } from '../../shared/register/row.ts';
import type { RegisterRow } from '../../shared/register/row.ts';
import { deviceClassLabels } from '../../shared/trade/words.ts';
import type { DeviceClass } from '../../shared/trade/words.ts';

/** A row with where it stands; `refused` are its columns whose cells could not be read. */
export type OriginRow = RegisterRow & { file?: string; line?: number; refused?: ReadonlySet<string> };

const feedersOf: Record<DeviceClass, readonly DeviceClass[]> = {
  air_station: [],
  regulator: ['air_station', 'regulator'],
  switchover_relay: ['air_station', 'regulator'],
  time_switch: [],
  main: ['regulator', 'switchover_relay', 'main'],
  controller: ['main', 'transmitter', 'controller'],
  transmitter: ['main'],
  actuator: ['controller', 'main'],
};

/** Level of a room whose level cell was refused. */
const LEVEL_NOT_READ = '';

/** What air comes through: none of these is retired while something in service hangs on it. */
const airSupply: ReadonlySet<string> = new Set(['air_station', 'regulator', 'switchover_relay', 'main']);
const TAGS_NAMED = 5;

function overlay(index: RegisterIndex, rows: readonly OriginRow[]): RegisterIndex {
  const merged: RegisterIndex = {
    buildings: new Set(index.buildings),
    levels: new Set(index.levels),
    rooms: new Map(index.rooms),
    devices: new Map(index.devices),
  };
  for (const { rowClass, values, refused } of rows) {
    if (rowClass === 'building') merged.buildings.add(values.building);
    else if (rowClass === 'level') merged.levels.add(`${values.building}/${values.level}`);
    else if (rowClass === 'room')
      merged.rooms.set(`${values.building}/${values.room}`, values.level ?? LEVEL_NOT_READ);
    else if (isDeviceClass(rowClass))
      merged.devices.set(values.tag, {
        class: rowClass,
        pressureUnit: refused?.has('pressure_unit') ? null : (values.pressure_unit ?? null),
        temperatureUnit: refused?.has('temperature_unit') ? null : (values.temperature_unit ?? null),
        controllerKind: values.controller_kind ?? null,
        fedBy: values.fed_by?.split('|') ?? [],
        retired: values.retired_on !== undefined,
        roles: index.devices.get(values.tag)?.roles ?? [],
      });
  }
  return merged;
}

/** A device in a room is on the room's level, whether its row says so or not. */
export function withImpliedLevels(index: RegisterIndex, rows: readonly OriginRow[]): OriginRow[] {
  const { rooms } = overlay(index, rows);
  return rows.map((row) => {
    const { building, room, level } = row.values;
    if (!isDeviceClass(row.rowClass) || room === undefined || level !== undefined) return row;
    const implied = rooms.get(`${building}/${room}`);
    return implied === undefined || implied === LEVEL_NOT_READ
      ? row
      : { ...row, values: { ...row.values, level: implied } };
  });
}

/**
 * Every problem of some rows against the book; an empty list means that they may be written. Rows with refused
 * cells may stand among them. `isWhole` is false when rows of the same load could not be read at all: then
 * nothing is said of tags and places that may stand in those.
 */
export function checkRows(
  index: RegisterIndex,
  rows: readonly OriginRow[],
  isWhole: boolean = true,
): InputProblem[] {
  const problems: InputProblem[] = [];
  const fail = (row: OriginRow, column: string, reason: string): void => {
    if (row.refused?.has(column)) return;
    problems.push({ file: row.file, line: row.line, column, value: row.values[column] ?? '', reason });
  };
  const missing: Fail = isWhole ? fail : () => undefined;
  const first = new Map<string, OriginRow>();
  for (const row of rows) {
    const key = rowKey(row.rowClass, row.values);
    const before = first.get(key);
    if (before)
      fail(
        row,
        row.rowClass === 'setpoint' ? 'role' : isDeviceClass(row.rowClass) ? 'tag' : row.rowClass,
        `stands already in ${before.file ?? 'the form'}${before.line ? `, line ${before.line}` : ''}`,
      );
    else first.set(key, row);
    const held = isDeviceClass(row.rowClass) ? index.devices.get(row.values.tag) : undefined;
    if (held && held.class !== row.rowClass)
      fail(row, 'tag', `the book has this tag on a ${deviceClassLabels[held.class as DeviceClass]}`);
  }
  const merged = overlay(index, rows);
  for (const row of rows) {
    checkPlace(merged, row, { fail, missing });
    if (isDeviceClass(row.rowClass)) checkFeeds(merged, row, row.rowClass, { fail, missing });
    if (row.rowClass === 'setpoint') checkSetpoint(merged, row, { fail, missing });
    if (row.rowClass === 'controller') checkOwnSetpoints(index, first, row, fail);
  }
  checkRetired(index, merged, rows, fail);
  for (const row of rows)
    if (isDeviceClass(row.rowClass) && isOnLoop(merged, row.values.tag))
      fail(row, 'fed_by', 'the supply path comes back to this device: a loop');
  return problems;
}

type Fail = (row: OriginRow, column: string, reason: string) => void;
type Fails = { fail: Fail; missing: Fail };

/** Air does not come through what is retired. What the book holds already is left alone, so that it can be mended. */
function checkRetired(
  index: RegisterIndex,
  merged: RegisterIndex,
  rows: readonly OriginRow[],
  fail: Fail,
): void {
  const retiring = new Map<string, OriginRow>();
  for (const row of rows)
    if (airSupply.has(row.rowClass) && row.values.retired_on && !index.devices.get(row.values.tag)?.retired)
      retiring.set(row.values.tag, row);
  for (const row of rows) {
    if (!isDeviceClass(row.rowClass) || row.values.retired_on) continue;
    const held = index.devices.get(row.values.tag);
    for (const tag of row.values.fed_by?.split('|') ?? []) {
      const feeder = merged.devices.get(tag);
      if (!feeder?.retired || !airSupply.has(feeder.class) || retiring.has(tag)) continue;
      if (!(held && !held.retired && held.fedBy.includes(tag))) fail(row, 'fed_by', `${tag} is retired`);
    }
  }
  if (retiring.size === 0) return;
  const left = new Map<string, string[]>();
  for (const [tag, device] of merged.devices)
    if (!device.retired)
      for (const feeder of device.fedBy)
        if (retiring.has(feeder)) left.set(feeder, [...(left.get(feeder) ?? []), tag]);
  for (const [tag, fed] of left) {
    const more = fed.length > TAGS_NAMED ? ` and ${fed.length - TAGS_NAMED} more` : '';
    fail(
      retiring.get(tag) as OriginRow,
      'retired_on',
      `still feeds ${fed.slice(0, TAGS_NAMED).join(', ')}${more}; retire them too, or give them another supply first`,
    );
  }
}

function checkPlace(merged: RegisterIndex, row: OriginRow, { fail, missing }: Fails): void {
  const { building, level, room } = row.values;
  if (row.rowClass === 'building' || building === undefined) return;
  if (!merged.buildings.has(building)) {
    missing(row, 'building', 'no such building; add a building row');
    return;
  }
  if (row.rowClass === 'level') return;
  if (level !== undefined && !merged.levels.has(`${building}/${level}`))
    missing(row, 'level', `building ${building} has no such level; add a level row`);
  if (row.rowClass === 'room' || room === undefined) return;
  const roomLevel = merged.rooms.get(`${building}/${room}`);
  if (roomLevel === undefined) missing(row, 'room', `building ${building} has no such room; add a room row`);
  else if (level !== undefined && roomLevel !== LEVEL_NOT_READ && level !== roomLevel)
    fail(row, 'level', `room ${room} is on level ${roomLevel}`);
}

function checkFeeds(
  merged: RegisterIndex,
  row: OriginRow,
  rowClass: DeviceClass,
  { fail, missing }: Fails,
): void {
  for (const tag of row.values.fed_by?.split('|') ?? []) {
    const feeder = merged.devices.get(tag);
    if (tag === row.values.tag) fail(row, 'fed_by', 'a device cannot feed itself');
    else if (!feeder) missing(row, 'fed_by', `no device has the tag ${tag}`);
    else if (!feedersOf[rowClass].includes(feeder.class as DeviceClass))
      fail(
        row,
        'fed_by',
        `${tag} is a ${deviceClassLabels[feeder.class as DeviceClass]}, which does not feed a ${deviceClassLabels[rowClass]}`,
      );
  }
  const { pilot_by: pilot, driven_by: driver } = row.values;
  if (pilot !== undefined && merged.devices.get(pilot)?.class !== 'switchover_relay')
    missing(row, 'pilot_by', 'no switchover relay has this tag');
  if (
    driver !== undefined &&
    driver !== 'hand switch' &&
    driver !== 'building signal' &&
    merged.devices.get(driver)?.class !== 'time_switch'
  )
    missing(
      row,
      'driven_by',
      'no time switch has this tag, and it is neither `hand switch` nor `building signal`',
    );
}

function checkSetpoint(merged: RegisterIndex, row: OriginRow, { fail, missing }: Fails): void {
  const controller = merged.devices.get(row.values.tag);
  if (controller?.class !== 'controller') {
    missing(row, 'tag', 'no controller has this tag');
    return;
  }
  const roles = rolesOfController(controller.controllerKind ?? '');
  if (controller.controllerKind !== null && !roles.includes(row.values.role))
    fail(
      row,
      'role',
      roles.length === 0
        ? `a ${controller.controllerKind} controller takes no setpoint rows yet`
        : `a ${controller.controllerKind} controller has: ${roles.join(', ')}`,
    );
  if (controller.pressureUnit !== null && controller.pressureUnit !== row.values.pressure_unit)
    fail(row, 'pressure_unit', `its controller is in ${controller.pressureUnit}`);
  if (controller.temperatureUnit !== null && controller.temperatureUnit !== row.values.temperature_unit)
    fail(row, 'temperature_unit', `its controller is in ${controller.temperatureUnit}`);
}

/** A controller's unit or kind cannot change under the setpoints that the book holds for it. */
function checkOwnSetpoints(
  index: RegisterIndex,
  given: ReadonlyMap<string, OriginRow>,
  row: OriginRow,
  fail: Fail,
): void {
  const held = index.devices.get(row.values.tag);
  const allowed = rolesOfController(row.values.controller_kind);
  for (const role of held?.roles ?? []) {
    if (!allowed.includes(role))
      fail(
        row,
        'controller_kind',
        `the book holds its ${role} setpoint with history; retire this controller and add the new one under another tag`,
      );
    if (given.has(rowKey('setpoint', { tag: row.values.tag, role }))) continue;
    if (held?.pressureUnit !== row.values.pressure_unit)
      fail(row, 'pressure_unit', `its ${role} setpoint is in ${held?.pressureUnit}; load it anew together`);
    if (held?.temperatureUnit !== row.values.temperature_unit)
      fail(
        row,
        'temperature_unit',
        `its ${role} setpoint is in ${held?.temperatureUnit}; load it anew together`,
      );
  }
}

function isOnLoop(merged: RegisterIndex, tag: string): boolean {
  const seen = new Set<string>();
  const queue = [...(merged.devices.get(tag)?.fedBy ?? [])];
  while (queue.length > 0) {
    const next = queue.pop() as string;
    if (next === tag) return true;
    if (seen.has(next)) continue;
    seen.add(next);
    queue.push(...(merged.devices.get(next)?.fedBy ?? []));
  }
  return false;
}
