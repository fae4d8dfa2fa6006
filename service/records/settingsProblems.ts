/** What stands in the book against the newest change of it in the chain: rules of the bench, defaults, and days of devices. */
import type { BookDb } from '../../db/book.ts';
import { benchRulesOf } from '../settings/benchRules.ts';

const ofDevice = ['retired_on', 'in_service_on'] as const;

async function presentValues(db: BookDb): Promise<Map<string, string | null>> {
  const { value: bench } = await benchRulesOf(db);
  const present = new Map<string, string | null>([
    ['decision rule of bench', bench.decisionRule],
    ['freeze lockout of bench', String(bench.freezeLockoutMilli)],
  ]);
  for (const row of await db.selectFrom('class_default').selectAll().execute())
    for (const [what, value] of Object.entries(row))
      present.set(`${what} of class ${row.kind} ${row.unit}`, value === null ? null : String(value));
  const devices = await db
    .selectFrom('device')
    .select(['id', ...ofDevice])
    .execute();
  for (const row of devices)
    for (const what of ofDevice)
      present.set(`${what} of device ${row.id}`, row[what] === null ? null : String(row[what]));
  return present;
}

/** Hands every contradiction to `report`, in words. */
export async function settingsProblems(db: BookDb, report: (detail: string) => void): Promise<void> {
  const newest = await db
    .selectFrom('setting_change as s')
    .select(['s.id', 's.what', 's.subject', 's.device_id', 's.to_value'])
    .where('s.id', 'in', (eb) =>
      eb
        .selectFrom('setting_change')
        .select((one) => one.fn.max('id').as('id'))
        .groupBy(['what', 'subject', 'device_id']),
    )
    .orderBy('s.id')
    .execute();
  const present = await presentValues(db);
  // A device may have been renamed: of all that is said of it under any tag, the last holds.
  const said = new Map<string, { id: number; words: string; value: string | null }>();
  for (const { id, what, subject, device_id, to_value } of newest) {
    const isDevice = device_id !== null && ofDevice.some((name) => name === what);
    const key = isDevice ? `${what} of device ${device_id}` : `${what} of ${subject}`;
    if (present.has(key)) said.set(key, { id, words: `${what} of ${subject}`, value: to_value });
  }
  for (const [key, { id, words, value }] of said) {
    const now = present.get(key) ?? null;
    if ((value ?? '') !== (now ?? ''))
      report(`${words} is ${now ?? 'empty'}; change ${id} in the chain made it ${value ?? 'empty'}`);
  }
}
