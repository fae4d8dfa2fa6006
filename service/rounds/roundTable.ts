/** A round as a table, one row a task: for CSV and for a workbook. What has no place stands at the end, with its reason. */
import type { BookDb } from '../../db/book.ts';
import { roundHead, tasksOfRound, visitsOfRound } from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { writeCsv } from '../csv/writeCsv.ts';
import { workbookBytes } from '../xlsx/writeWorkbook.ts';
import type { Cell } from '../xlsx/writeWorkbook.ts';

const columns = [
  'date',
  'shift',
  'from',
  'to',
  'person',
  'order',
  'building',
  'level',
  'room',
  'main',
  'air_state',
  'tag',
  'test_point',
  'role',
  'minutes',
  'due_on',
  'no_access',
  'unplaced_because',
] as const;
type Row = Record<(typeof columns)[number], Cell>;

async function rowsOf(
  db: BookDb,
  roundId: number | undefined,
): Promise<{ name: string; rows: Row[]; at: string }> {
  const head = await roundHead(db, roundId);
  if (!head) throw new AppError('not_found', 'There is no round in the book; draw one first.');
  const visits = new Map((await visitsOfRound(db, head.id)).map((visit) => [visit.id, visit]));
  const order = new Map<number, number>();
  const counts = new Map<string, number>();
  for (const { id, slot, person_id } of visits.values()) {
    const key = `${slot} ${person_id}`;
    counts.set(key, (counts.get(key) ?? 0) + 1);
    order.set(id, counts.get(key) as number);
  }
  const rows = (await tasksOfRound(db, head.id)).map((task): Row => {
    const visit = task.visit_id === null ? undefined : visits.get(task.visit_id);
    return {
      date: visit?.on_date ?? null,
      shift: visit?.shift ?? null,
      from: visit?.from_time ?? null,
      to: visit?.to_time ?? null,
      person: visit?.initials ?? null,
      order: visit ? (order.get(visit.id) ?? null) : null,
      building: visit?.building ?? null,
      level: visit?.level ?? null,
      room: visit?.room ?? null,
      main: visit?.main ?? null,
      air_state: visit?.air_state ?? null,
      tag: task.tag,
      test_point: task.kind,
      role: task.role,
      minutes: task.minutes,
      due_on: task.due_on,
      no_access: visit?.no_access_reason ?? null,
      unplaced_because: visit
        ? null
        : `${task.reason ?? ''}${task.reason_detail ? `: ${task.reason_detail}` : ''}`,
    };
  });
  const key = ({ date, shift, person, order: place, tag }: Row): string =>
    `${date ?? '9999'} ${shift} ${person} ${String(place).padStart(4, '0')} ${tag}`;
  return {
    name: head.name,
    rows: rows.toSorted((a, b) => key(a).localeCompare(key(b))),
    at: head.drawn_at,
  };
}

export async function roundCsv(db: BookDb, roundId: number | undefined): Promise<Uint8Array<ArrayBuffer>> {
  const { rows } = await rowsOf(db, roundId);
  return writeCsv(
    columns,
    rows.map((row) =>
      Object.fromEntries(columns.map((column) => [column, row[column] === null ? '' : String(row[column])])),
    ),
  );
}

export async function roundWorkbook(
  db: BookDb,
  roundId: number | undefined,
): Promise<Uint8Array<ArrayBuffer>> {
  const { name, rows, at } = await rowsOf(db, roundId);
  return workbookBytes(
    [
      {
        name: 'Round',
        columns: columns.map((title) => ({
          title,
          width: title === 'unplaced_because' ? 40 : undefined,
          isDay: title === 'date' || title === 'due_on',
        })),
        rows: [rows.map((row) => columns.map((column) => row[column]))],
      },
    ],
    { at: new Date(at), title: name },
  );
}
