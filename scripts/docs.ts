/**
 * Writes docs/register-csv.md and docs/readings-csv.md from the column lists that the program itself uses:
 * `npm run docs`. A test holds the committed files against what this makes.
 */
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { cardColumns, readingFileColumns } from '../service/records/readingColumns.ts';
import { columns, columnsOf, rowClasses } from '../shared/register/columns.ts';
import type { Column } from '../shared/register/columns.ts';

const forms: Record<Column['kind'], string> = {
  text: 'text',
  code: 'code',
  tag: 'tag',
  tags: 'tags, `|` between',
  choice: 'choice',
  pressure: 'pressure',
  temperature: 'temperature',
  'temperature difference': 'temperature difference',
  decimal: 'number',
  integer: 'whole number',
  date: 'date',
  dates: 'dates, `|` between',
  'access list': 'list',
  'programme list': 'list',
  'season list': 'list',
  'month list': 'list',
};

function columnLine(column: Column): string {
  const allowed = column.choices ? column.choices.map((choice) => `\`${choice}\``).join(', ') : '';
  const range = column.range
    ? `${column.range.from} to ${column.range.to}${column.kind === 'pressure' ? ' psi' : column.kind.startsWith('temperature') ? ' °F' : ''}`
    : '';
  return `| \`${column.name}\` | ${forms[column.kind]} | ${column.help.replaceAll('|', '\\|')} | ${allowed || range} |`;
}

/** Text of docs/register-csv.md. */
export function registerDocument(): string {
  const byClass = rowClasses.map((rowClass) => {
    const own = columnsOf(rowClass).filter((column) => column.name !== 'class');
    const must = own.filter((column) => column.on[rowClass] === 'must').map((column) => `\`${column.name}\``);
    const may = own.filter((column) => column.on[rowClass] === 'may').map((column) => `\`${column.name}\``);
    return `| \`${rowClass}\` | ${must.join(', ')} | ${may.join(', ')} |`;
  });
  return `# Register files

Made by \`npm run docs\` from the list that the program reads files by; do not edit by hand.

One row describes one place, device or setpoint; its \`class\` says which columns it may and must fill. A file may mix
classes, name its columns in any order and leave out the ones it does not use; several files are loaded together, and rows may
come in any order. All rows are loaded or none. Every problem is listed with file, line, column, value and reason; only where a
file or a row cannot be read at all (encoding, quotation marks, number of cells, class, tag or code) are the tags and places that
may stand in it looked up once it can.

- **Encoding** UTF-8, with or without a byte order mark; Windows-1252 when declared.
- **Delimiter** comma, semicolon or tab: the header decides. Cells may be quoted; a quoted cell may hold line breaks.
- **Declared, never guessed**: pressures in psi or kPa, temperatures in °F or °C (a difference in °C is in K), dates as
  \`2026-04-09\`, \`09.04.2026\` (day first) or \`04/09/2026\` (month first), decimals with a point or a comma. The columns
  \`pressure_unit\` and \`temperature_unit\` state another unit for one row.
- **Figures** have at most three decimals and are kept exactly as typed, in the unit typed.
- **A row that the book has already** is compared: equal rows change nothing; other values change it, column by column, and each
  change is kept. A column that the file does not have is left alone; an empty cell of a column that it has clears the value.
- **Nothing is deleted.** A device that is gone gets a \`retired_on\` date. An air station, regulator, relay or main is not retired
  while something in service is fed by it.
- A cell that a spreadsheet would run as a formula is exported with an apostrophe before it, which loading takes away again.

Lists: \`access\` and \`programme\` items are weekdays (1 = Monday) and a span of time, \`12345 07:00-17:00\`, a programme item
with its air state behind it. \`seasons\` items are two month-days and an air state, and together cover every day of the year once.

## Classes

| class | must have | may have |
| --- | --- | --- |
${byClass.join('\n')}

What feeds what: a regulator is fed by an air station or a regulator; a switchover relay by an air station or by the regulators
that it selects between; a main by a regulator, a relay or another main; a controller by a main, a transmitter or a controller; an
actuator by a controller or a main. A two-pressure regulator names the relay on its pilot port in \`pilot_by\`; a relay names what
drives it in \`driven_by\`.

A single controller has one setpoint row with role \`only\`; a two-setpoint controller has \`occupied\` and \`unoccupied\`; a
changeover controller has \`heating\` and \`cooling\`; receiver-controllers and humidity controllers have \`only\`. The
dial, throttling range and tolerance of a humidity controller are in percent of relative humidity, whatever the file declares.

## Columns

| column | form | what it holds | allowed |
| --- | --- | --- | --- |
${columns.map(columnLine).join('\n')}
`;
}

/** Text of docs/readings-csv.md. */
export function readingsDocument(): string {
  return `# Files of past readings

Made by \`npm run docs\` from the list that the program reads files by; do not edit by hand.

One row is one visit to one test point. A setpoint is recorded either by its readings (\`main_pressure\`, \`dial\`,
\`room_temperature\`, \`branch_found\`, and \`branch_left\` when it was adjusted) or, where only that is known, by its error. Other
test points are recorded by \`value_found\` and \`value_left\` in the unit of the test point. Encoding, delimiter, units, dates and
decimals are declared as for register files (register-csv.md).

- All rows are loaded or none; every problem is listed with file, line, column, value and reason.
- An error is the temperature at which the controller delivers its calibration pressure, less the dial: positive means that the
  room is held warmer than the dial says. Errors are differences: in °C they are in K.
- \`held\` means that it was left as found; the as-left is then the as-found. \`adjusted\` without an as-left means that the as-left
  was not written down: the next drift is unknown, never zero. Either needs a figure; a visit without one was \`not tested\`.
- \`no access\` and \`not tested\` stand without readings. Under \`supply not right\` readings are kept, and no error follows from them.
- A reading that no instrument can show is refused, and so is a branch above its main, and a reading of a setpoint whose air state
  the main pressure does not give (by the changeover pressures in the register).
- Loading a file again changes nothing. A record that the book has is never changed by a file: a different record of the same
  test point on the same day is refused.

| column | needed | what it holds |
| --- | --- | --- |
${readingFileColumns.map((column) => `| \`${column.name}\` | ${column.must ? 'yes' : ''} | ${column.help.replaceAll('|', '\\|')} |`).join('\n')}

## Whole cards

A row with \`card\` as its kind is a whole card: one row for all test points of the device (with \`role\` for one setpoint), with the
columns of its class below, judged as the bench card judges. What a file cannot know (ticks, what was put back) is not asked for;
readings that contradict the outcome are refused. Choices are written as on the card.

| column | holds | on the cards of |
| --- | --- | --- |
${cardColumns()
  .map(({ name, label, cards }) => `| \`${name}\` | ${label} | ${cards.join(', ')} |`)
  .join('\n')}
`;
}

if (process.argv[1]?.endsWith('docs.ts')) {
  const folder = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..', 'docs');
  writeFileSync(path.join(folder, 'register-csv.md'), registerDocument());
  writeFileSync(path.join(folder, 'readings-csv.md'), readingsDocument());
}
