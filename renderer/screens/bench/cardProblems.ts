/** What stands in the way of closing a card, in the words of its steps, and the way back to the step. */
import { descriptionOf } from '../../../shared/cards/index.ts';
import type { CardFacts } from '../../../shared/cards/index.ts';
import type { BenchCard, BenchEntry } from '../../../shared/contract/bench.ts';
import { instrumentWords } from '../../../shared/cards/instruments.ts';
import type { InstrumentKind } from '../../../shared/cards/instruments.ts';
import { completingOutcomes } from '../../../shared/trade/words.ts';
import { sentence } from '../../ui/format.ts';
import { factsOnVisit, judged, typingProblems } from '../../cards/cardState.ts';
import type { CardText } from '../../cards/cardState.ts';

/** `column` names the field as the service does: `doneOn`, `entries.0.found`. */
export type CardProblem = { column: string; value: string; reason: string };

const headNames: Record<string, string> = {
  personId: 'Readings taken by',
  doneOn: 'Date of the work',
  tickNote: 'Before you begin',
  outcome: 'Outcome',
  reason: 'Why it is corrected',
  corrector: 'Corrected by',
  readAgain: 'Read again after the other setpoint',
};

/** What can be told without asking the service; the same rules as there, and what it never sees: figures that do not read. */
export function ownProblems(card: BenchCard, text: CardText, chosen: readonly BenchEntry[]): CardProblem[] {
  const problems: CardProblem[] = [];
  const add = (column: string, value: string, reason: string): void => {
    if (!problems.some((one) => one.column === column && one.reason === reason))
      problems.push({ column, value, reason });
  };
  if (text.personId === '') add('personId', '', 'choose who took the readings');
  if (text.doneOn === '') add('doneOn', '', 'give the date of the work');
  if (card.correcting && text.reason.trim() === '') add('reason', '', 'say why the record is corrected');
  if (card.correcting && text.corrector === '') add('corrector', '', 'choose who corrects it');
  for (const [index, one] of chosen.entries()) {
    const { key } = one;
    const facts = factsOnVisit(one, index, chosen.length);
    const judgement = judged(card, facts, text, key);
    const field = (name: string): string =>
      name.startsWith('instruments.') ? name : `entries.${index}.${name}`;
    for (const { field: name, reason } of typingProblems(facts, text.entries[key], judgement.isShut))
      add(field(name), key, reason);
    if (text.entries[key].outcome === '') add(field('outcome'), key, 'choose the outcome');
    else for (const { field: name, reason } of judgement.problems) add(field(name), key, reason);
  }
  const [first, second] = chosen;
  const isCompleting = (key: string): boolean =>
    completingOutcomes.some((outcome) => outcome === text.entries[key].outcome);
  if (
    second &&
    isCompleting(first.key) &&
    isCompleting(second.key) &&
    (text.entries[first.key].values.againBranch ?? '').trim() === ''
  )
    add(
      'entries.0.readAgain',
      first.key,
      'read the first setpoint again after the second: adjusting one can disturb the other',
    );
  return problems;
}

/** Problems of one entry by field, for the step they belong to. */
export function problemsOfEntry(
  problems: readonly { column: string; reason: string }[],
  index: number,
): Record<string, string> {
  const prefix = `entries.${index}.`;
  const byField: Record<string, string> = {};
  for (const { column, reason } of problems) {
    if (!column.startsWith(prefix)) continue;
    const field = column.slice(prefix.length);
    byField[field] = byField[field] === undefined ? reason : `${byField[field]}; ${reason}`;
  }
  return byField;
}

function nameOf(field: string, facts: CardFacts | undefined): string {
  const kind = field.startsWith('instruments.')
    ? (field.slice('instruments.'.length) as InstrumentKind)
    : null;
  if (kind) return sentence(instrumentWords[kind]);
  if (headNames[field]) return headNames[field];
  const steps = facts ? descriptionOf(facts).steps : [];
  const step = steps.find((one) => one.key === field || one.fields.some(({ key }) => key === field));
  if (!step) return facts ? 'Put back' : field;
  const own = step.fields.find(({ key }) => key === field);
  return own ? `${step.title}: ${own.label}` : step.title;
}

/** Where a problem stands, for people, and the step to go to: `KEY field`, or the field alone. */
export function placeOf(
  column: string,
  entries: readonly Pick<BenchEntry, 'key' | 'facts'>[],
): { words: string; step: string } {
  const match = /^entries\.(\d)\.(.+)$/.exec(column);
  const field = match ? match[2] : column;
  const entry = match ? entries[Number(match[1])] : undefined;
  const name = nameOf(field, entry?.facts);
  if (!entry) return { words: name, step: field };
  return entry.key === ''
    ? { words: name, step: field }
    : { words: `${sentence(entry.key)}: ${name.toLowerCase()}`, step: `${entry.key} ${field}` };
}

/** Puts the keyboard on the first field of a step. */
export function goToStep(step: string): void {
  const [field, role] = step.split(' ').toReversed();
  const within: ParentNode =
    (role && document.querySelector(`[data-role="${CSS.escape(role)}"]`)) || document;
  const target =
    within.querySelector<HTMLElement>(`[data-field="${CSS.escape(field)}"] :is(input, select)`) ??
    within.querySelector<HTMLElement>(`[data-fields~="${CSS.escape(field)}"] :is(input, select)`);
  target?.focus();
}
