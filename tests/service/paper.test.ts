import { describe, expect, it } from 'vitest';
import { readCardCode, cardCode } from '../../shared/cards/code.ts';
import type { PaperRow, SheetScope } from '../../shared/contract/paper.ts';
import type { ClosedEntry } from '../../shared/contract/bench.ts';
import type { Service } from '../../service/service.ts';
import { drawnSample, headHash, sampleService } from '../support/books.ts';
import { cardOf, goodInstruments, ticked } from '../support/bench.ts';

async function lowSheet(service: Service): Promise<{ scope: SheetScope; rows: PaperRow[] }> {
  const { id } = await service.call('register.find', { tag: 'HM-N' });
  const scope: SheetScope = { kind: 'main', mainId: id ?? 0, airState: 'low' };
  return { scope, rows: (await service.call('paper.sheet', { scope })).rows };
}

function entryOf(row: PaperRow, change: Partial<ClosedEntry> = {}): ClosedEntry {
  return {
    key: row.key,
    seen: Object.fromEntries(row.points.map((point) => [point.key, point.newestRecordId])),
    ticks: ticked,
    tickNote: '',
    adjusted: false,
    values: {
      main: 13_000,
      foundDial: 72_000,
      foundRoom: 72_000,
      foundBranch: 8_000,
      swingOne: 0,
      swingOther: 13_000,
      dialBack: 71_000,
    },
    outcome: 'held',
    note: '',
    ...change,
  };
}

describe('a paper sheet', () => {
  it('has the setpoints of a main in one air state, by place, or the cards of somebody’s day', async () => {
    const { service, roundId } = await drawnSample(20_000);
    const { rows } = await lowSheet(service);
    expect(rows.length).toBe(45);
    expect([rows[0].tag, rows[0].key, new Set(rows.map(({ key }) => key)).size]).toEqual([
      'TC-N1-01',
      'occupied',
      1,
    ]);
    const overview = await service.call('rounds.overview', { id: roundId });
    const day = overview.days.find(({ people }) => people.length > 0);
    const key = { roundId, date: day?.date ?? '', personId: day?.people[0].personId ?? 0 };
    const sheet = await service.call('paper.sheet', { scope: { kind: 'day', ...key } });
    const paper = await service.call('rounds.daySheet', key);
    const tasks = paper.shifts.flatMap(({ visits }) => visits.flatMap((visit) => visit.tasks));
    expect(new Set(sheet.rows.map(({ tag }) => tag))).toEqual(new Set(tasks.map(({ tag }) => tag)));
    expect(sheet.personId).toBe(key.personId);
  });

  it('is written whole, with a count of its verdicts, by date and instruments', async () => {
    const service = await sampleService();
    const { scope, rows } = await lowSheet(service);
    const instruments = goodInstruments(await cardOf(service, 'TC-N1-01'));
    const all = { pressure: instruments.pressure, temperature: instruments.temperature, humidity: null };
    const failed = {
      outcome: 'device failed',
      values: { ...entryOf(rows[1]).values, foundBranch: 1_500 },
    } as const;
    const written = await service.call('paper.close', {
      scope,
      personId: 1,
      draftRevision: 0,
      parts: [
        {
          doneOn: '2026-11-24',
          instruments: all,
          cards: [{ deviceId: rows[0].deviceId, entries: [entryOf(rows[0])] }],
        },
        {
          doneOn: '2026-11-25',
          instruments: all,
          cards: [{ deviceId: rows[1].deviceId, entries: [entryOf(rows[1], failed)] }],
        },
      ],
    });
    expect([
      written.verdicts,
      written.followUps.length,
      written.records.map(({ dueOn }) => dueOn?.slice(0, 4)),
    ]).toEqual([{ inside: 1, outside: 1 }, 1, ['2027', expect.any(String)]]);
    const details = await service.call('records.details', {
      calibrationId: written.records[0].calibrationId,
    });
    expect([details.source, details.doneOn]).toEqual(['paper', '2026-11-24']);
    expect(await headHash(service)).toBe(written.headHash);
  });

  it('names every row that stands in the way, and then writes none', async () => {
    const service = await sampleService();
    const { scope, rows } = await lowSheet(service);
    const before = await headHash(service);
    const instruments = { ...goodInstruments(await cardOf(service, 'TC-N1-01')), humidity: null };
    const bad = entryOf(rows[1], { values: { ...entryOf(rows[1]).values, foundBranch: 1_500 } });
    const part = (row: PaperRow, entry: ClosedEntry) => ({
      doneOn: '2026-11-25',
      instruments,
      cards: [{ deviceId: row.deviceId, entries: [entry] }],
    });
    await expect(
      service.call('paper.close', {
        scope,
        personId: 1,
        draftRevision: 0,
        parts: [
          part(rows[0], entryOf(rows[0])),
          part(rows[1], bad),
          part(rows[2], entryOf(rows[2], { ticks: {} })),
        ],
      }),
    ).rejects.toMatchObject({
      code: 'invalid_input',
      details: {
        problems: expect.arrayContaining([
          expect.objectContaining({ column: 'parts.1.cards.0.entries.0.outcome' }),
          expect.objectContaining({ column: 'parts.2.cards.0.entries.0.tickNote' }),
        ]),
      },
    });
    expect(await headHash(service)).toBe(before);
  });

  it('takes nothing that is not on the sheet, twice, or of a draft that another window changed', async () => {
    const service = await sampleService();
    const { scope, rows } = await lowSheet(service);
    const before = await headHash(service);
    const instruments = { ...goodInstruments(await cardOf(service, 'TC-N1-01')), humidity: null };
    const card = { deviceId: rows[0].deviceId, entries: [entryOf(rows[0])] };
    const write = (cards: (typeof card)[], draftRevision = 0) =>
      service.call('paper.close', {
        scope,
        personId: 1,
        draftRevision,
        parts: [{ doneOn: '2026-11-25', instruments, cards }],
      });
    const { rows: all } = await service.call('paper.sheet', {
      scope: { ...scope, airState: 'high' } as typeof scope,
    });
    const refused = (reason: string) => ({
      code: 'invalid_input',
      details: { problems: expect.arrayContaining([expect.objectContaining({ reason })]) },
    });
    await expect(write([card, card])).rejects.toMatchObject(refused('this device stands twice in one part'));
    const [other] = all;
    await expect(write([{ deviceId: other.deviceId, entries: [entryOf(other)] }])).rejects.toMatchObject(
      refused('is not on this sheet'),
    );
    const inPart = (doneOn: string) => ({ doneOn, instruments, cards: [card] });
    await expect(
      service.call('paper.close', {
        scope,
        personId: 1,
        draftRevision: 0,
        parts: [inPart('2026-11-24'), inPart('2026-11-25')],
      }),
    ).rejects.toMatchObject(refused('stands twice on this sheet'));
    await expect(write([card], 3)).rejects.toMatchObject({ code: 'conflict' });
    expect(await headHash(service)).toBe(before);
  });

  it('keeps its draft by revision, never over another window’s, and lets it go when written', async () => {
    const service = await sampleService();
    const { scope, rows } = await lowSheet(service);
    const save = (json: string, over: number) => service.call('paper.saveDraft', { scope, json, over });
    expect(await save('{"a":1}', 0)).toEqual({ revision: 1 });
    expect(await save('{"a":2}', 1)).toEqual({ revision: 2 });
    await expect(save('{"b":1}', 1)).rejects.toMatchObject({
      code: 'conflict',
      details: { current: { json: '{"a":2}' } },
    });
    await expect(save('{"b"', 2)).rejects.toMatchObject({ code: 'invalid_input' });
    expect((await service.call('paper.sheet', { scope })).draft).toMatchObject({
      json: '{"a":2}',
      revision: 2,
    });
    const instruments = { ...goodInstruments(await cardOf(service, 'TC-N1-01')), humidity: null };
    await service.call('paper.close', {
      scope,
      personId: 1,
      draftRevision: 2,
      parts: [
        {
          doneOn: '2026-11-25',
          instruments,
          cards: [{ deviceId: rows[0].deviceId, entries: [entryOf(rows[0])] }],
        },
      ],
    });
    expect((await service.call('paper.sheet', { scope })).draft).toBe(null);
  });

  it('prints with a box for each figure and a code for each card', async () => {
    const service = await sampleService();
    const { scope } = await lowSheet(service);
    const file = await service.call('paper.pdf', { scope });
    expect(new TextDecoder('latin1').decode(file.bytes.slice(0, 5))).toBe('%PDF-');
    expect(file.bytes.length).toBeGreaterThan(50_000);
  });
});

describe('the code of a card', () => {
  it.each([
    ['TC-N1-01', 'occupied'],
    ['PRV-HN', ''],
    ['TR 0.2/a', 'heating'],
  ])('%s %s reads back', (tag, key) => expect(readCardCode(cardCode(tag, key))).toEqual({ tag, key }));
  it('a tag typed by hand will do, in any case of the prefix, and nothing is nothing', () =>
    expect([
      readCardCode(' TC-N1-01 '),
      readCardCode('CARD:TC-1#only'),
      readCardCode(' '),
      readCardCode('card:'),
    ]).toEqual([{ tag: 'TC-N1-01', key: '' }, { tag: 'TC-1', key: 'only' }, null, null]));
});
