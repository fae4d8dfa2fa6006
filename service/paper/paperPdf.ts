/** A sheet of cards with blank boxes and codes, for the clipboard. */
import type { Content } from 'pdfmake/interfaces.js';
import type { BookDb } from '../../db/book.ts';
import { chainHead } from '../../db/ledger.ts';
import type { PaperRow } from '../../shared/contract/paper.ts';
import type { Tick } from '../../shared/cards/card.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import { boxesOfCard } from '../bench/paperBoxes.ts';
import { cardOnPaper, pageFoot, signingLine, underHeading } from '../pdf/boxes.ts';
import { renderPdf } from '../pdf/renderPdf.ts';
import { cautions } from '../rounds/daySheet.ts';
import { siteOf } from '../settings/handlers.ts';

/** The first of two setpoints of a controller on one sheet has boxes for its second reading. */
function factsOnSheet(row: PaperRow, rows: readonly PaperRow[]): CardFacts {
  const { facts, deviceId } = row;
  if (facts.card !== 'setpoint') return facts;
  const own = rows.filter((one) => one.deviceId === deviceId);
  return { ...facts, isFirstOfTwo: own.length > 1 && own[0] === row };
}

/** What is ticked once for the sheet; a card that differs says so at its outcome. */
function ticksOfSheet(rows: readonly PaperRow[]): Content[] {
  const unique = (ticks: readonly Tick[]): string[] => [...new Set(ticks.map(({ text }) => text))];
  const of = (choose: (facts: CardFacts) => readonly Tick[]): Content => ({
    text: unique(rows.flatMap(({ facts }) => choose(facts)))
      .map((text) => `[   ] ${text}`)
      .join('     '),
    fontSize: 8,
    margin: [0, 0, 0, 3],
  });
  return [
    { text: 'Before, and after; what does not hold for a card stands beside it', bold: true, fontSize: 8.5 },
    of((facts) => descriptionOf(facts).preconditions),
    of((facts) => descriptionOf(facts).restored),
    {
      text: 'A main was forced for: ________________________   outdoor temperature then: __________',
      fontSize: 8,
    },
  ];
}

/** The bytes of a sheet. */
export async function paperPdf(
  db: BookDb,
  { title, rows }: { title: string; rows: readonly PaperRow[] },
): Promise<Uint8Array<ArrayBuffer>> {
  const head = await chainHead(db);
  const { value: site } = await siteOf(db);
  const content: Content[] = [
    { text: `Paper sheet: ${title}`, fontSize: 15, bold: true },
    {
      text: `${site.name}   ${rows.length} cards   date: ____________   by: ____________`,
      fontSize: 9,
      margin: [0, 2, 0, 4],
    },
    { ul: [...cautions], fontSize: 7.5, color: '#222222', margin: [0, 0, 0, 4] },
    ...ticksOfSheet(rows),
  ];
  for (let start = 0; start < rows.length;) {
    const { place } = rows[start];
    let end = start;
    while (end < rows.length && rows[end].place === place) end += 1;
    content.push(
      ...underHeading(
        [{ text: place || 'no place noted', bold: true, fontSize: 10, margin: [0, 6, 0, 2] }],
        rows.slice(start, end).map((row) =>
          cardOnPaper({
            tag: row.tag,
            key: row.key,
            words: row.title,
            boxes: boxesOfCard(factsOnSheet(row, rows)),
          }),
        ),
      ),
    );
    start = end;
  }
  content.push(signingLine);
  return renderPdf({
    info: { title: `Paper sheet ${title}` },
    pageSize: 'A4',
    pageMargins: [36, 36, 36, 42],
    content,
    footer: pageFoot(head),
  });
}
