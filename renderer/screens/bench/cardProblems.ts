/** What stands in the way of closing a card, in the words of its steps, and the way back to the step. */
import type { BenchCard, BenchSetpoint } from '../../../shared/contract/bench.ts';
import { judgeCard, problemsWithoutPressure } from '../../../shared/trade/benchRules.ts';
import { completingOutcomes } from '../../../shared/trade/words.ts';
import { sentence } from '../../ui/format.ts';
import { settingOf, toEntry, typingProblems } from './cardState.ts';
import type { CardText } from './cardState.ts';

/** `column` names the field as the service does: `doneOn`, `entries.0.found`. */
export type CardProblem = { column: string; value: string; reason: string };

const stepNames: Record<string, string> = {
  personId: 'Readings taken by',
  doneOn: 'Date of the work',
  pressureGaugeId: 'Gauge',
  temperatureGaugeId: 'Thermometer',
  mainPressure: 'Air state',
  preconditionNote: 'Before you begin',
  found: 'As found',
  fullTravel: 'Full travel',
  left: 'Adjustment',
  throttling: 'Adjustment, throttling-range check',
  readAgain: 'Read again after the other setpoint',
  dialPutBack: 'Put back',
  'restored.main': 'Put back',
  'restored.override': 'Put back',
  'restored.valves': 'Put back',
  outcome: 'Outcome',
};

/** What can be told without asking the service; the same rules as there, and what it never sees: figures that do not read. */
export function ownProblems(
  card: BenchCard,
  text: CardText,
  chosen: readonly BenchSetpoint[],
): CardProblem[] {
  const problems: CardProblem[] = [];
  if (text.personId === '')
    problems.push({ column: 'personId', value: '', reason: 'choose who took the readings' });
  if (text.doneOn === '') problems.push({ column: 'doneOn', value: '', reason: 'give the date of the work' });
  for (const [index, setpoint] of chosen.entries()) {
    const setting = settingOf(card, setpoint);
    const entry = text.entries[setpoint.role];
    const add = (field: string, reason: string): void => {
      problems.push({ column: `entries.${index}.${field}`, value: setpoint.role, reason });
    };
    const result = setting ? judgeCard(setting, toEntry(entry)) : null;
    const isShut = result !== null && result.live !== null && !result.stateIsRight;
    for (const { field, reason } of typingProblems(entry, isShut)) add(field, reason);
    if (entry.outcome === '') add('outcome', 'choose the outcome');
    else
      for (const { field, reason } of result?.problems ?? problemsWithoutPressure(toEntry(entry)))
        add(field, reason);
  }
  const [first, second] = chosen;
  const isCompleting = (role: string): boolean =>
    completingOutcomes.some((outcome) => outcome === text.entries[role].outcome);
  if (
    second &&
    isCompleting(first.role) &&
    isCompleting(second.role) &&
    toEntry(text.entries[first.role]).readAgain === null
  )
    problems.push({
      column: 'entries.0.readAgain',
      value: first.role,
      reason: 'read the first setpoint again after the second: adjusting one can disturb the other',
    });
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

/** Where a problem stands, for people, and the step to go to: `ROLE field`, or the field alone. */
export function placeOf(column: string, roles: readonly string[]): { words: string; step: string } {
  const match = /^entries\.(\d)\.(.+)$/.exec(column);
  const field = match ? match[2] : column;
  const role = match ? roles[Number(match[1])] : undefined;
  const name = stepNames[field] ?? field;
  return role === undefined
    ? { words: name, step: field }
    : { words: `${sentence(role)}: ${name.toLowerCase()}`, step: `${role} ${field}` };
}

/** Puts the keyboard on the first field of a step. */
export function goToStep(step: string): void {
  const [field, role] = step.split(' ').toReversed();
  const within: ParentNode =
    (role && document.querySelector(`[data-role="${CSS.escape(role)}"]`)) || document;
  within.querySelector<HTMLElement>(`[data-fields~="${CSS.escape(field)}"] :is(input, select)`)?.focus();
}
