/** The day sheet as a PDF with blank boxes, in the order of the bench card. */
import type { Content, TDocumentDefinitions } from 'pdfmake/interfaces.js';
import type { BookDb } from '../../db/book.ts';
import { chainHead } from '../../db/ledger.ts';
import type { DaySheet } from '../../shared/contract/rounds.ts';
import { switchText } from '../../shared/trade/switchText.ts';
import { siteOf } from '../settings/handlers.ts';
import { cardOnPaper, pageFoot, signingLine, underHeading } from '../pdf/boxes.ts';
import { renderPdf } from '../pdf/renderPdf.ts';

type Visit = DaySheet['shifts'][number]['visits'][number];
type Task = Visit['tasks'][number];

function taskContent(task: Task): Content {
  return cardOnPaper({
    tag: task.tag,
    key: task.role ?? '',
    words: `${task.role ?? ''}${task.role ? ' ' : ''}${task.kind}, ${task.minutes} min, due ${task.dueOn}${task.byPortable ? ', from the portable supply' : ''}`,
    boxes: task.boxes,
  });
}

function visitContent(visit: Visit): Content[] {
  const place =
    [visit.building, visit.level, visit.room, visit.roomName].filter((word) => word).join(' / ') ||
    'no place noted';
  const air =
    visit.main === null || visit.airState === null
      ? ''
      : `   main ${visit.main}: ${visit.airState.toUpperCase()}`;
  const access = visit.access ? `   access ${visit.access}` : '';
  return underHeading(
    [
      { text: `${visit.order}. ${place}${air}${access}`, bold: true, fontSize: 10, margin: [0, 6, 0, 2] },
      ...(visit.noAccess ? [{ text: `no access: ${visit.noAccess}`, italics: true, fontSize: 9 }] : []),
    ],
    visit.tasks.map(taskContent),
  );
}

function sheetContent(sheet: DaySheet, siteName: string): Content[] {
  const content: Content[] = [
    {
      text: `Day sheet: ${sheet.person.name} (${sheet.person.initials}), ${sheet.date}`,
      fontSize: 15,
      bold: true,
    },
    { text: `${siteName}   ${sheet.roundName} (${sheet.status})`, fontSize: 9, margin: [0, 2, 0, 4] },
    { ul: sheet.cautions, fontSize: 7.5, color: '#222222' },
  ];
  for (const shift of sheet.shifts) {
    const switching = shift.switching
      .map((one) => `${one.main} ${one.airState}${switchText(one)}`)
      .join('; ');
    content.push(
      {
        text: `Shift ${shift.shift}, ${shift.from}-${shift.to}: ${shift.loadMinutes} of ${shift.capacityMinutes} minutes${shift.overrunMinutes > 0 ? `, runs over by ${shift.overrunMinutes}, with waiting for those who share a main` : ''}`,
        bold: true,
        fontSize: 11,
        margin: [0, 10, 0, 0],
      },
      ...(switching === '' ? [] : [{ text: `Air states: ${switching}`, fontSize: 9 }]),
      ...shift.visits.flatMap(visitContent),
    );
  }
  if (sheet.shifts.length === 0) content.push({ text: 'No visits on this day.', margin: [0, 12, 0, 0] });
  content.push(signingLine);
  return content;
}

/** The bytes of the sheet. The footer carries the page and the head of the chain at printing. */
export async function daySheetPdf(db: BookDb, sheet: DaySheet): Promise<Uint8Array<ArrayBuffer>> {
  const head = await chainHead(db);
  const { value: site } = await siteOf(db);
  const definition: TDocumentDefinitions = {
    info: { title: `Day sheet ${sheet.date} ${sheet.person.initials}` },
    pageSize: 'A4',
    pageMargins: [36, 36, 36, 42],
    content: sheetContent(sheet, site.name),
    footer: pageFoot(head),
  };
  return renderPdf(definition);
}
