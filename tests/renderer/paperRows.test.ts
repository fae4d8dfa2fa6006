import { describe, expect, it } from 'vitest';
import {
  blankRow,
  inGridOrder,
  judgedRows,
  partsOf,
  rowName,
  startSheet,
} from '../../renderer/screens/paper/sheetState.ts';
import type { SheetText } from '../../renderer/screens/paper/sheetState.ts';
import { drawnSample } from '../support/books.ts';

/** A day's sheet that holds both setpoints of one controller. */
async function sheetWithTwo() {
  const { service, roundId } = await drawnSample(20_000);
  const { days } = await service.call('rounds.overview', { id: roundId });
  for (const { date, people } of days)
    for (const { personId } of people) {
      const scope = { kind: 'day' as const, roundId, date, personId };
      const sheet = inGridOrder(await service.call('paper.sheet', { scope }));
      const first = sheet.rows.findIndex(
        ({ deviceId }, index) => sheet.rows.findLastIndex((one) => one.deviceId === deviceId) > index,
      );
      if (first >= 0) return { sheet, first };
    }
  throw new Error('no day with two setpoints of one controller');
}

describe('rows of a paper sheet', () => {
  it('the first setpoint of a controller is read again only when the second stands in the same part', async () => {
    const { sheet, first } = await sheetWithTwo();
    const { deviceId } = sheet.rows[first];
    const second = sheet.rows.findIndex((one, index) => index > first && one.deviceId === deviceId);
    const typed = (change: Partial<SheetText['rows'][string]>): SheetText => ({
      ...startSheet(sheet, 1),
      rows: {
        [rowName(sheet.rows[first])]: { ...blankRow, outcome: 'held' },
        [rowName(sheet.rows[second])]: { ...blankRow, outcome: 'held', ...change },
      },
    });
    const isAskedAgain = (text: SheetText): boolean =>
      judgedRows(sheet, text)[first].problems.some(({ field }) => field === 'readAgain');
    const together = typed({});
    expect(isAskedAgain(together)).toBe(true);
    expect(partsOf(sheet, together, judgedRows(sheet, together))).toHaveLength(1);
    const apart = typed({ doneOn: '2026-11-20' });
    expect(isAskedAgain(apart)).toBe(false);
    expect(partsOf(sheet, apart, judgedRows(sheet, apart))).toHaveLength(2);
  });
});
