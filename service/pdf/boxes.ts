/** One card on paper: its name, a code that opens it, blank boxes in the order of the card. */
import type { Content, TableCell } from 'pdfmake/interfaces.js';
import { cardCode } from '../../shared/cards/code.ts';
import { formatMilli, unitLabel } from '../../shared/units/units.ts';
import type { Unit } from '../../shared/units/units.ts';

export type PaperBox = {
  label: string;
  unit: Unit;
  expectedMilli: number | null;
  choices: readonly string[];
};

const BOXES_PER_ROW = 8;
/** Room for two points a module, which a scanner reads off a creased sheet. */
const CODE_SIZE = 60;

function boxCell(box: PaperBox | undefined): TableCell {
  if (!box) return { text: '', border: [false, false, false, false] };
  const unit = unitLabel(box.unit);
  const expected =
    box.expectedMilli === null
      ? box.choices.join(' / ') || ' '
      : `should read ${formatMilli(box.expectedMilli)}`;
  return {
    stack: [
      { text: [box.label, unit === '' ? '' : `, ${unit}`], fontSize: 6, color: '#333333' },
      { text: ' ', fontSize: 13 },
      { text: expected, fontSize: 6, color: '#555555' },
    ],
  };
}

/** A card's part of a sheet; the caller keeps it on one page, with its heading. */
export function cardOnPaper(card: {
  tag: string;
  key: string;
  words: string;
  boxes: readonly PaperBox[];
}): Content {
  const rows: TableCell[][] = [];
  for (let start = 0; start < card.boxes.length; start += BOXES_PER_ROW)
    rows.push(Array.from({ length: BOXES_PER_ROW }, (_, index) => boxCell(card.boxes[start + index])));
  return {
    margin: [12, 2, 0, 4],
    columnGap: 6,
    columns: [
      {
        width: '*',
        stack: [
          {
            text: [
              { text: card.tag, bold: true },
              `  ${card.words}    outcome: ______________   gauges: ____________`,
            ],
            fontSize: 9,
            margin: [0, 0, 0, 2],
          },
          ...(rows.length > 0
            ? [{ table: { widths: Array.from({ length: BOXES_PER_ROW }, () => '*'), body: rows } }]
            : []),
        ],
      },
      { width: CODE_SIZE, qr: cardCode(card.tag, card.key), fit: CODE_SIZE, margin: [0, 2, 0, 0] },
    ],
  };
}

/** The foot of every page: the head of the chain at printing, and the page. */
export function pageFoot(head: { seq: number; hash: string }) {
  return (page: number, pages: number): Content => ({
    margin: [36, 12, 36, 0],
    fontSize: 7,
    columns: [
      { text: `ledger ${head.seq}: ${head.hash}` },
      { text: `page ${page} of ${pages}`, alignment: 'right', width: 80 },
    ],
  });
}

/** A heading with the first of what stands under it, never parted by a page, and the rest after. */
export function underHeading(heading: Content[], cards: Content[]): Content[] {
  const [first, ...rest] = cards;
  return [
    { unbreakable: true, stack: first === undefined ? heading : [...heading, first] },
    ...rest.map((card): Content => ({ unbreakable: true, stack: [card] })),
  ];
}

/** What is signed at the end of a sheet. */
export const signingLine: Content = {
  margin: [0, 14, 0, 0],
  fontSize: 9,
  text: 'Mains restored [   ]     overrides released [   ]     isolated valves opened [   ]     signed ______________________',
};
