/** What the bench goes by in the whole book: the decision rule in force and the freeze lockout. */
import type { BookDb } from '../../db/book.ts';
import { readSetting } from '../../db/settings.ts';
import { defaultBenchRules } from '../../shared/contract/settings.ts';
import type { BenchRules } from '../../shared/contract/settings.ts';

export async function benchRulesOf(db: BookDb): Promise<{ value: BenchRules; version: number }> {
  const held = await readSetting<BenchRules>(db, 'bench', defaultBenchRules);
  return { value: { ...defaultBenchRules, ...held.value }, version: held.version };
}
