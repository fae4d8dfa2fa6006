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

export type OriginRow = RegisterRow & { file?: string; line?: number };

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

function overlay(index: RegisterIndex, rows: readonly OriginRow[]): RegisterIndex {
  const merged: RegisterIndex = {
    buildings: new Set(index.buildings),
    levels: new Set(index.levels),
    rooms: new Map(index.rooms),
    devices: new Map(index.devices),
  };
  for (const { rowClass, values } of rows) {
    if (rowClass === 'building') merged.buildings.add(values.building);
    else if (rowClass === 'level') merged.levels.add(`${values.building}/${values.level}`);
    else if (rowClass === 'room') merged.rooms.set(`${values.building}/${values.room}`, values.level);
    else if (isDeviceClass(rowClass))
      merged.devices.set(values.tag, {
        class: rowClass,
        pressureUnit: values.pressure_unit ?? null,
        temperatureUnit: values.temperature_unit ?? null,
        controllerKind: values.controller_kind ?? null,
        fedBy: values.fed_by?.split('|') ?? [],
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
    return implied === undefined ? row : { ...row, values: { ...row.values, level: implied } };
  });
}

/** Every problem of some rows against the book; an empty list means that they may be written. */
export function checkRows(index: RegisterIndex, rows: readonly OriginRow[]): InputProblem[] {
  const problems: InputProblem[] = [];
  const fail = (row: OriginRow, column: string, reason: string): void => {
    problems.push({ file: row.file, line: row.line, column, value: row.values[column] ?? '', reason });
  };
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
    checkPlace(merged, row, fail);
    if (isDeviceClass(row.rowClass)) checkFeeds(merged, row, row.rowClass, fail);
    if (row.rowClass === 'setpoint') checkSetpoint(merged, row, fail);
    if (row.rowClass === 'controller') checkOwnSetpoints(index, first, row, fail);
  }
  for (const row of rows)
    if (isDeviceClass(row.rowClass) && isOnLoop(merged, row.values.tag))
      fail(row, 'fed_by', 'the supply path comes back to this device: a loop');
  return problems;
}

type Fail = (row: OriginRow, column: string, reason: string) => void;

function checkPlace(merged: RegisterIndex, row: OriginRow, fail: Fail): void {
  const { building, level, room } = row.values;
  if (row.rowClass === 'building' || building === undefined) return;
  if (!merged.buildings.has(building)) {
    fail(row, 'building', 'no such building; add a building row');
    return;
  }
  if (row.rowClass === 'level') return;
  if (level !== undefined && !merged.levels.has(`${building}/${level}`))
    fail(row, 'level', `building ${building} has no such level; add a level row`);
  if (row.rowClass === 'room' || room === undefined) return;
  const roomLevel = merged.rooms.get(`${building}/${room}`);
  if (roomLevel === undefined) fail(row, 'room', `building ${building} has no such room; add a room row`);
  else if (level !== undefined && level !== roomLevel)
    fail(row, 'level', `room ${room} is on level ${roomLevel}`);
}

function checkFeeds(merged: RegisterIndex, row: OriginRow, rowClass: DeviceClass, fail: Fail): void {
  for (const tag of row.values.fed_by?.split('|') ?? []) {
    const feeder = merged.devices.get(tag);
    if (tag === row.values.tag) fail(row, 'fed_by', 'a device cannot feed itself');
    else if (!feeder) fail(row, 'fed_by', `no device has the tag ${tag}`);
    else if (!feedersOf[rowClass].includes(feeder.class as DeviceClass))
      fail(
        row,
        'fed_by',
        `${tag} is a ${deviceClassLabels[feeder.class as DeviceClass]}, which does not feed a ${deviceClassLabels[rowClass]}`,
      );
  }
  const { pilot_by: pilot, driven_by: driver } = row.values;
  if (pilot !== undefined && merged.devices.get(pilot)?.class !== 'switchover_relay')
    fail(row, 'pilot_by', 'no switchover relay has this tag');
  if (
    driver !== undefined &&
    driver !== 'hand switch' &&
    driver !== 'building signal' &&
    merged.devices.get(driver)?.class !== 'time_switch'
  )
    fail(
      row,
      'driven_by',
      'no time switch has this tag, and it is neither `hand switch` nor `building signal`',
    );
}

function checkSetpoint(merged: RegisterIndex, row: OriginRow, fail: Fail): void {
  const controller = merged.devices.get(row.values.tag);
  if (controller?.class !== 'controller') {
    fail(row, 'tag', 'no controller has this tag');
    return;
  }
  const roles = rolesOfController(controller.controllerKind ?? '');
  if (!roles.includes(row.values.role))
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
