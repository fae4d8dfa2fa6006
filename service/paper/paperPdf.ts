/** A sheet of cards with blank boxes and codes, for the clipboard. */
import type { Content } from 'pdfmake/interfaces.js';
import type { BookDb } from '../../db/book.ts';
import { chainHead } from '../../db/ledger.ts';
import type { PaperRow } from '../../shared/contract/paper.ts';
import { boxesOfCard } from '../bench/paperBoxes.ts';
import { cardOnPaper, pageFoot, signingLine, underHeading } from '../pdf/boxes.ts';
import { renderPdf } from '../pdf/renderPdf.ts';
import { cautions } from '../rounds/daySheet.ts';
import { siteOf } from '../settings/handlers.ts';

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
    { ul: [...cautions], fontSize: 7.5, color: '#222222' },
  ];
  for (let start = 0; start < rows.length;) {
    const { place } = rows[start];
    let end = start;
    while (end < rows.length && rows[end].place === place) end += 1;
    content.push(
      ...underHeading(
        [{ text: place || 'no place noted', bold: true, fontSize: 10, margin: [0, 6, 0, 2] }],
        rows
          .slice(start, end)
          .map((row) =>
            cardOnPaper({ tag: row.tag, key: row.key, words: row.title, boxes: boxesOfCard(row.facts) }),
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
