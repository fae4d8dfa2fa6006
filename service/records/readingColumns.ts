/** Columns of a file of past readings; docs/readings-csv.md is made from this list. */
import { cards } from '../../shared/cards/index.ts';
import type { CardField, Phase } from '../../shared/cards/card.ts';

const phaseSuffix: Record<Phase, string> = { found: '', left: '_left', check: '_check', restored: '' };

/** A quantity as a code: letters, digits and underscores. */
export function codeOf(quantity: string): string {
  return quantity.replaceAll(/[^a-z0-9]+/g, '_');
}

/** Column of a card's field: its stored words, with what was left and what was checked kept apart. */
export function columnOfField({ quantity, phase }: Pick<CardField<never>, 'quantity' | 'phase'>): string {
  return `${codeOf(quantity)}${phaseSuffix[phase]}`;
}

/** What the columns of whole cards hold, by column: the words of the field, and which cards have it. */
export function cardColumns(): { name: string; label: string; cards: string[] }[] {
  const columns = new Map<string, { name: string; label: string; cards: string[] }>();
  for (const { title, steps } of Object.values(cards))
    for (const { fields } of steps)
      for (const field of fields) {
        const name = columnOfField(field);
        const column = columns.get(name) ?? { name, label: field.label, cards: [] };
        if (!column.cards.includes(title)) column.cards.push(title);
        columns.set(name, column);
      }
  return [...columns.values()];
}

export const readingFileColumns: readonly { name: string; must?: true; help: string }[] = [
  { name: 'tag', must: true, help: 'tag of the device' },
  {
    name: 'kind',
    help: 'kind of test point, as on the device page; empty = `setpoint`; `card` = a whole card with the columns below',
  },
  { name: 'role', help: 'role of the setpoint; empty for other kinds' },
  { name: 'done_on', must: true, help: 'date of the visit, in the declared style' },
  { name: 'person', must: true, help: 'initials of the person, as in Settings' },
  {
    name: 'outcome',
    must: true,
    help: '`held`, `adjusted`, `device failed`, `supply not right`, `no access`, `unsafe` or `not tested`',
  },
  { name: 'main_pressure', help: 'main pressure at the device' },
  { name: 'dial', help: 'dial as found' },
  { name: 'room_temperature', help: 'room temperature as measured' },
  { name: 'branch_found', help: 'branch pressure as found' },
  { name: 'branch_left', help: 'branch pressure as left, with the dial at the room temperature' },
  {
    name: 'error_found',
    help: 'as-found error, where only the error is known; positive = warmer than the dial',
  },
  { name: 'found_relation', help: '`=`, `>=` or `<=`: a clipped reading gives a bound; empty = `=`' },
  { name: 'error_left', help: 'as-left error, where only the error is known' },
  {
    name: 'value_found',
    help: 'value as found, for test points other than setpoints, in the unit of the test point',
  },
  { name: 'value_left', help: 'value as left, for test points other than setpoints' },
  { name: 'replaced', help: '`yes` when the device was replaced on this visit' },
  { name: 'pressure_unit', help: 'unit of the row’s pressures; empty = as declared for the file' },
  { name: 'temperature_unit', help: 'unit of the row’s temperatures; empty = as declared for the file' },
  { name: 'note', help: 'remarks' },
  { name: 'pressure_gauge', help: 'of a card: tag of the gauge that it was read from' },
  { name: 'reference_gauge', help: 'of a card: tag of the thermometer or hygrometer' },
];
