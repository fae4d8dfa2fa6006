import { describe, expect, it } from 'vitest';
import { headHash, sampleService } from '../support/books.ts';
import { cardOf, closing, goodInstruments, heldEntry, setpointFacts } from '../support/bench.ts';

const tag = 'TC-N1-02';
const again = { againRoom: 72_000, againDial: 72_000, againBranch: 8_100 };

async function seriesLength(
  service: Awaited<ReturnType<typeof sampleService>>,
  role: string,
): Promise<number> {
  return (await service.call('drift.ofTag', { tag, role })).series[0].points.length;
}

describe('closing a card', () => {
  it('writes both setpoints, their readings, the chain and the due dates in one transaction', async () => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    const before = await seriesLength(service, 'occupied');
    await service.call('bench.saveDraft', { deviceId: card.deviceId, json: '{"half":"typed"}', over: null });
    const closed = await service.call(
      'bench.close',
      closing(card, [heldEntry(card, 'occupied', { values: again }), heldEntry(card, 'unoccupied')]),
    );
    expect(
      closed.records.map((record) => [
        record.role,
        record.outcome,
        record.errorFoundMilli,
        record.verdictFound,
        record.errorLeftMilli,
        record.dueOn,
      ]),
    ).toEqual([
      ['occupied', 'held', 0, 'inside', 0, '2027-11-25'],
      ['unoccupied', 'held', 0, 'inside', 0, '2027-11-25'],
    ]);
    expect(await seriesLength(service, 'occupied')).toBe(before + 1);
    expect((await cardOf(service, tag)).draft).toBe(null);
    expect(await headHash(service)).toBe(closed.headHash);
  });

  it('keeps the draft until then, and gives it back', async () => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    await service.call('bench.saveDraft', { deviceId: card.deviceId, json: '{"entries":{}}', over: null });
    expect((await cardOf(service, tag)).draft?.json).toBe('{"entries":{}}');
    await service.call('bench.dropDraft', { deviceId: card.deviceId });
    expect((await cardOf(service, tag)).draft).toBe(null);
  });

  it('a draft goes over the one it was made from, never over another window’s', async () => {
    const service = await sampleService();
    const { deviceId } = await cardOf(service, tag);
    const save = (json: string, over: string | null) =>
      service.call('bench.saveDraft', { deviceId, json, over });
    await save('{"a":1}', null);
    await save('{"a":2}', '{"a":1}');
    await expect(save('{"b":1}', null)).rejects.toMatchObject({
      code: 'conflict',
      details: { current: { json: '{"a":2}' } },
    });
    await expect(save('{"b":1}', '{"a":1}')).rejects.toMatchObject({ code: 'conflict' });
    expect((await cardOf(service, tag)).draft?.json).toBe('{"a":2}');
  });

  it('a card does not close over a record that it has not seen', async () => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    const input = { ...closing(card, [heldEntry(card, 'occupied')]), startedAt: '2026-11-25T08:00:00Z' };
    const closed = await service.call('bench.close', input);
    await expect(service.call('bench.close', input)).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('has a record that this card has not seen: “held”'),
    });
    await expect(service.call('bench.close', { ...input, startedAt: 'junk' })).rejects.toMatchObject({
      code: 'invalid_input',
      details: { problems: [{ column: 'startedAt' }] },
    });
    expect(await headHash(service)).toBe(closed.headHash);
    const again = await cardOf(service, tag);
    await service.call('bench.close', closing(again, [heldEntry(again, 'occupied')]));
  });

  it.each(['no access', 'not tested'] as const)('“%s” takes no readings with it', async (outcome) => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    const entry = heldEntry(card, 'occupied', { outcome });
    await expect(service.call('bench.close', closing(card, [entry]))).rejects.toMatchObject({
      code: 'invalid_input',
      details: {
        problems: [
          {
            column: 'entries.0.outcome',
            value: 'occupied',
            reason: expect.stringContaining('nothing is read'),
          },
        ],
      },
    });
  });

  it('readings taken in the other air state are kept as of that state', async () => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    const [{ key }] = card.entries;
    const { airState } = setpointFacts(card, key);
    const other = airState === 'low' ? card.main?.highMilli : card.main?.lowMilli;
    const entry = heldEntry(card, key, {
      outcome: 'supply not right',
      values: {
        main: other ?? 0,
        foundDial: undefined,
        foundRoom: undefined,
        foundBranch: undefined,
        swingOne: undefined,
        swingOther: undefined,
      },
    });
    const closed = await service.call('bench.close', closing(card, [entry]));
    const rows = await service.book.reader
      .selectFrom('reading')
      .select(['quantity', 'air_state'])
      .where('calibration_id', '=', closed.records[0].calibrationId)
      .execute();
    expect(rows.find((row) => row.quantity === 'main pressure')?.air_state).toBe(
      airState === 'low' ? 'high' : 'low',
    );
  });

  it('an adjustment keeps found and left apart, with method, verdicts and checks', async () => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    const entry = heldEntry(card, 'occupied', {
      adjusted: true,
      values: {
        foundBranch: 4_000,
        leftDial: 72_000,
        leftRoom: 72_000,
        leftBranch: 8_100,
        dialUp: 73_000,
        branchUp: 5_600,
        dialDown: 71_000,
        branchDown: 10_600,
      },
      outcome: 'adjusted',
    });
    const closed = await service.call('bench.close', closing(card, [entry]));
    expect(closed.records[0]).toMatchObject({
      errorFoundMilli: 1600,
      verdictFound: 'outside',
      errorLeftMilli: -40,
      verdictLeft: 'inside',
    });
    await headHash(service);
  });

  it.each([
    ['device failed', 1],
    ['supply not right', 1],
    ['unsafe', 1],
    ['no access', 0],
    ['not tested', 0],
  ] as const)('“%s” does not move the due date and opens %i follow-up', async (outcome, followUps) => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    const before = card.entries[0].points[0].dueOn;
    const entry = heldEntry(card, 'occupied', { outcome, note: 'as said' });
    const closed = await service.call(
      'bench.close',
      closing(card, [followUps === 0 ? { ...entry, values: {} } : entry]),
    );
    expect([closed.records[0].dueOn, closed.followUps.length]).toEqual([before, followUps]);
    const open = await service.call('followUps.list', {});
    expect(open.rows.filter((row) => row.tag === tag).length).toBe(followUps);
    await headHash(service);
  });

  it('a record keeps what the register said then: later edits change nothing of it', async () => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    const page = await service.call('register.device', { id: card.deviceId });
    const setpoint = page.setpoints.find((one) => one.values.role === 'occupied');
    await service.call('register.save', {
      rowClass: 'setpoint',
      cells: { ...setpoint?.values, throttling_range: '6' },
      version: setpoint?.version ?? 0,
    });
    await headHash(service);
    const { series } = await service.call('drift.ofTag', { tag, role: 'occupied' });
    expect(series[0].points.at(-1)).toMatchObject({ foundMilli: 0, event: 'none' });
  });
});

it('a repair ends a series: what was found closes it, what was left begins the next', async () => {
  const service = await sampleService();
  const first = await cardOf(service, tag);
  const repaired = heldEntry(first, 'occupied', {
    ticks: { ...heldEntry(first, 'occupied').ticks, repaired: true },
  });
  await service.call('bench.close', closing(first, [repaired], { doneOn: '2026-11-20' }));
  const second = await cardOf(service, tag);
  await service.call(
    'bench.close',
    closing(second, [heldEntry(second, 'occupied', { values: { foundBranch: 8_500 } })]),
  );
  const { series } = await service.call('drift.ofTag', { tag, role: 'occupied' });
  const points = series[0].points.slice(-2);
  expect([points[0].event, points[1].series - points[0].series, points[1].foundMilli]).toEqual([
    'changed',
    1,
    -200,
  ]);
  await headHash(service);
});

describe('a card that cannot be closed', () => {
  it('says which entry and field, and writes nothing', async () => {
    const service = await sampleService();
    const card = await cardOf(service, tag);
    const before = await headHash(service);
    const refuse = async (input: Parameters<typeof closing>[1], change = {}): Promise<string[]> => {
      try {
        await service.call('bench.close', closing(card, input, change));
      } catch (error) {
        return (error as { details: { problems: { column: string }[] } }).details.problems.map(
          (problem) => problem.column,
        );
      }
      return [];
    };
    expect(await refuse([heldEntry(card, 'occupied', { values: { main: 18_000 } })])).toContain(
      'entries.0.outcome',
    );
    expect(await refuse([heldEntry(card, 'occupied', { values: { dialBack: undefined } })])).toEqual([
      'entries.0.dialBack',
    ]);
    expect(await refuse([heldEntry(card, 'occupied'), heldEntry(card, 'unoccupied')])).toEqual([
      'entries.0.readAgain',
    ]);
    expect(await refuse([heldEntry(card, 'occupied'), heldEntry(card, 'occupied')])).toContain(
      'entries.1.key',
    );
    expect(await refuse([heldEntry(card, 'occupied')], { doneOn: '2026-11-26' })).toEqual(['doneOn']);
    expect(await refuse([heldEntry(card, 'occupied')], { doneOn: '1950-01-01' })).toEqual(['doneOn']);
    expect(await refuse([heldEntry(card, 'occupied')], { personId: 99 })).toEqual(['personId']);
    const instruments = { ...goodInstruments(card), pressure: goodInstruments(card).temperature };
    expect(await refuse([heldEntry(card, 'occupied')], { instruments })).toEqual(['instruments.pressure']);
    expect(await headHash(service)).toBe(before);
  });
  it('a device that is not there says so', async () => {
    const service = await sampleService();
    await expect(service.call('bench.card', { deviceId: 999_999 })).rejects.toMatchObject({
      code: 'not_found',
    });
  });
});

describe('metric and spring-governed controllers', () => {
  it('a controller in kPa and degC is judged in its own units', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-W3-11');
    const facts = setpointFacts(card, 'only');
    expect([facts.pressureUnit, facts.temperatureUnit, facts.calibrationPressureMilli]).toEqual([
      'kPa',
      'degC',
      55_000,
    ]);
    const main = 137_900;
    const entry = heldEntry(card, 'only', {
      values: { main, foundDial: 21_500, foundRoom: 21_500, foundBranch: 62_000, swingOther: main },
    });
    const closed = await service.call('bench.close', closing(card, [entry]));
    expect(closed.records[0]).toMatchObject({ errorFoundMilli: -200, unit: 'degC', verdictFound: 'inside' });
  });
  it('the governing actuator decides the calibration pressure where the basis is its spring', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-W1-04');
    const facts = setpointFacts(card, card.entries[0].key);
    expect([facts.calibrationPressureMilli, facts.spring?.tag]).toEqual([5500, 'VH-W1-04']);
  });
});
