import { describe, expect, it } from 'vitest';
import { drawnSample, headHash, plainFileStyle, sampleService, upload } from '../support/books.ts';
import { cardOf, closing, heldEntry } from '../support/bench.ts';
import type { Service } from '../../service/service.ts';

async function page(service: Service, tag: string) {
  const { id } = await service.call('register.find', { tag });
  return service.call('register.device', { id: id ?? 0 });
}

/** How many tasks of a round stand on day sheets for a device. */
async function plannedOf(service: Service, roundId: number, deviceId: number): Promise<number> {
  const { days } = await service.call('rounds.overview', { id: roundId });
  let planned = 0;
  for (const { date, people } of days)
    for (const { personId } of people) {
      const { shifts } = await service.call('rounds.daySheet', { roundId, date, personId });
      const tasks = shifts.flatMap(({ visits }) => visits.flatMap((visit) => visit.tasks));
      planned += tasks.filter((task) => task.deviceId === deviceId).length;
    }
  return planned;
}

const by = { on: '2026-11-25', reason: 'diaphragm torn', personId: 1 };

describe('a device is replaced', () => {
  it('under its own tag: the old series are closed, the new ones begin, and both are due as they should', async () => {
    const service = await sampleService();
    const old = await page(service, 'TC-N1-02');
    const before = await service.call('drift.ofTag', { tag: 'TC-N1-02', role: 'occupied' });
    const swapped = await service.call('register.replace', {
      id: old.id,
      version: old.version,
      newTag: null,
      ...by,
    });
    expect([swapped.oldTag, swapped.newTag]).toEqual(['TC-N1-02-OUT1', 'TC-N1-02']);
    const now = await page(service, 'TC-N1-02');
    expect(now.setpoints.map(({ values }) => values.dial)).toEqual(
      old.setpoints.map(({ values }) => values.dial),
    );
    expect(now.testPoints.map((point) => [point.lastDoneOn, point.dueOn, point.active])).toEqual([
      [null, '2026-11-25', true],
      [null, '2026-11-25', true],
    ]);
    expect([now.main?.tag, now.feeds.map(({ tag }) => tag), now.replaces?.tag]).toEqual([
      old.main?.tag,
      old.feeds.map(({ tag }) => tag),
      'TC-N1-02-OUT1',
    ]);
    const gone = await page(service, 'TC-N1-02-OUT1');
    expect([gone.values.retired_on, gone.feeds, gone.replacedBy?.tag]).toEqual([
      '2026-11-25',
      [],
      'TC-N1-02',
    ]);
    expect(gone.testPoints.every(({ active }) => !active)).toBe(true);
    const kept = await service.call('drift.ofTag', { tag: 'TC-N1-02-OUT1', role: 'occupied' });
    // The last visit of the device that is gone: no drift counts from what was left there.
    expect(kept.series[0].points).toEqual(
      before.series[0].points.map((point, at, all) =>
        at === all.length - 1 ? { ...point, carriedMilli: null } : point,
      ),
    );
    const fresh = await service.call('drift.ofTag', { tag: 'TC-N1-02', role: 'occupied' });
    expect(fresh.series[0].points).toEqual([]);
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    expect(closed.records[0].dueOn).toBe('2027-11-25');
    await headHash(service);
  });

  it('under another tag; what it piloted, drove and fed follows it', async () => {
    const service = await sampleService();
    const clock = await page(service, 'TS-HALL');
    await service.call('register.replace', {
      id: clock.id,
      version: clock.version,
      newTag: 'TS-HALL-2',
      ...by,
    });
    expect((await page(service, 'SR-HN')).values.driven_by).toBe('TS-HALL-2');
    expect((await page(service, 'TS-HALL-2')).values.programme).toBe(clock.values.programme);
    const regulator = await page(service, 'PRV-HN');
    await service.call('register.replace', {
      id: regulator.id,
      version: regulator.version,
      newTag: 'PRV-HN-2',
      ...by,
    });
    expect((await page(service, 'HM-N')).values.fed_by).toBe('PRV-HN-2');
    expect((await page(service, 'PRV-HN-2')).values.pilot_by).toBe('SR-HN');
    expect((await page(service, 'TC-N1-02')).main?.tag).toBe('HM-N');
    await headHash(service);
  });

  it('takes over what a round has planned; what was measured on the old one is not said of the new', async () => {
    const { service, roundId } = await drawnSample(20_000);
    const { rows } = await service.call('register.list', {});
    const measured = async () => {
      for (const { tag } of rows) {
        const one = await page(service, tag);
        if (one.values.trip_falling) return one;
      }
      throw new Error('no controller with measured changeover');
    };
    const old = await measured();
    const before = await plannedOf(service, roundId, old.id);
    expect(before).toBeGreaterThan(0);
    // What failed is the usual reason for another device, and is not done.
    const card = await cardOf(service, old.values.tag);
    await service.call(
      'bench.close',
      closing(card, [heldEntry(card, card.entries[0].key, { outcome: 'device failed' })]),
    );
    await service.call('bench.saveDraft', { deviceId: old.id, json: '{}', over: null });
    const swapped = await service.call('register.replace', {
      id: old.id,
      version: old.version,
      newTag: null,
      ...by,
    });
    expect([
      await plannedOf(service, roundId, swapped.oldId),
      await plannedOf(service, roundId, swapped.newId),
    ]).toEqual([0, before]);
    const now = await page(service, swapped.newTag);
    expect([now.values.trip_falling ?? '', now.values.trip_rising ?? '']).toEqual(['', '']);
    expect((await service.call('bench.card', { deviceId: old.id })).draft).toBe(null);
    await headHash(service);
  });

  it('a pin and a promised date of the old one hold for the new one when the round is drawn again', async () => {
    const { service, roundId } = await drawnSample(20_000);
    const { visits, round } = await service.call('rounds.show', {});
    const placed = visits.flatMap(({ date, person, tasks }) =>
      tasks.map(({ id }) => ({ id, date, person, tag: id.split('/')[0] })),
    );
    const late = placed.filter(({ id, date }) => date > '2027-06-01' && id.includes('/occupied'));
    const [pinned, promised] = [late[0], late[late.length - 1]];
    expect(pinned.tag).not.toBe(promised.tag);
    await service.call('rounds.pin', { id: roundId, task: pinned.id, pinned: true });
    await service.call('rounds.issue', { id: roundId, version: round.version });
    for (const { tag } of [pinned, promised]) {
      const { id, version } = await page(service, tag);
      await service.call('register.replace', { id, version, newTag: `${tag}-B`, ...by });
    }
    const again = await service.runJob('rounds.redraw', { id: roundId, seed: 1, evaluations: 20_000 });
    const after = await service.call('rounds.show', { id: again.roundId });
    const placeOf = (tag: string) =>
      after.visits.find(({ tasks }) => tasks.some(({ id }) => id === `${tag}-B/occupied`));
    expect(placeOf(pinned.tag)).toMatchObject({ date: pinned.date, person: pinned.person });
    // What was promised stays, or what moved it is told.
    const isTold = again.moved.some(({ task }) => task === `${promised.tag}-B/occupied`);
    expect(isTold || placeOf(promised.tag)?.date === promised.date).toBe(true);
    await headHash(service);
  });

  it('what is half done on the old one is planned for the new one, what is wholly done is not', async () => {
    const service = await sampleService();
    const { roundId } = await service.runJob('rounds.draw', {
      from: '2026-11-02',
      to: '2027-12-31',
      seed: 1,
      evaluations: 20_000,
    });
    const half = await page(service, 'PRV-HN');
    const whole = await page(service, 'PRV-HF');
    const [ofHalf, ofWhole] = [
      await plannedOf(service, roundId, half.id),
      await plannedOf(service, roundId, whole.id),
    ];
    expect([ofHalf > 0, ofWhole > 0]).toEqual([true, true]);
    const rows = ['PRV-HN,regulator low,13.1', 'PRV-HF,regulator low,13.1', 'PRV-HF,regulator high,17.9'].map(
      (row) => {
        const [tag, kind, value] = row.split(',');
        return `${tag},${kind},2026-11-03,IM,held,${value}\n`;
      },
    );
    const loaded = await service.runJob('records.load', {
      files: [upload('past.csv', `tag,kind,done_on,person,outcome,value_found\n${rows.join('')}`)],
      style: plainFileStyle,
      dryRun: false,
    });
    expect([loaded.problems, loaded.added]).toEqual([[], 3]);
    for (const { id } of [half, whole]) {
      const { version } = await service.call('register.device', { id });
      await service.call('register.replace', { id, version, newTag: null, ...by });
    }
    expect([await plannedOf(service, roundId, half.id), await plannedOf(service, roundId, whole.id)]).toEqual(
      [0, ofWhole],
    );
    await headHash(service);
  });

  it('and its open follow-ups end with it', async () => {
    const service = await sampleService();
    const valve = await page(service, 'VH-S2-05');
    expect(valve.followUps.filter(({ closedAt }) => closedAt === null)).toHaveLength(1);
    await service.call('register.replace', { id: valve.id, version: valve.version, newTag: null, ...by });
    const old = await page(service, 'VH-S2-05-OUT1');
    expect(old.followUps.filter(({ closedAt }) => closedAt === null)).toEqual([]);
  });

  it.each([
    [{ on: '2026-11-26' }, 'on'],
    [{ on: '1970-01-01' }, 'on'],
    [{ newTag: 'TC-N1-03' }, 'newTag'],
    [{ newTag: 'has space|bar' }, 'newTag'],
    [{ personId: 99 }, 'personId'],
    [{ reason: ' ' }, 'reason'],
  ])('%o is refused at %s, and nothing is changed', async (change, column) => {
    const service = await sampleService();
    const old = await page(service, 'TC-N1-02');
    const head = await headHash(service);
    await expect(
      service.call('register.replace', { id: old.id, version: old.version, newTag: null, ...by, ...change }),
    ).rejects.toMatchObject({ code: 'invalid_input', details: { problems: [{ column }] } });
    expect(await page(service, 'TC-N1-02')).toEqual(old);
    expect(await headHash(service)).toBe(head);
  });

  it('not a main, not twice, and not over somebody’s newer edit', async () => {
    const service = await sampleService();
    const main = await page(service, 'HM-N');
    await expect(
      service.call('register.replace', { id: main.id, version: main.version, newTag: null, ...by }),
    ).rejects.toMatchObject({ code: 'invalid_input' });
    const old = await page(service, 'VH-N1-02');
    await expect(
      service.call('register.replace', { id: old.id, version: old.version + 1, newTag: null, ...by }),
    ).rejects.toMatchObject({ code: 'stale_version' });
    await service.call('register.replace', { id: old.id, version: old.version, newTag: null, ...by });
    const gone = await page(service, 'VH-N1-02-OUT1');
    await expect(
      service.call('register.replace', { id: gone.id, version: gone.version, newTag: null, ...by }),
    ).rejects.toMatchObject({ code: 'invalid_input' });
  });
});

describe('follow-ups', () => {
  async function blame(service: Service, tag: string, change = {}) {
    const card = await cardOf(service, tag);
    const entry = heldEntry(card, 'occupied', {
      outcome: 'supply not right',
      values: {
        main: 15_500,
        foundDial: undefined,
        foundRoom: undefined,
        foundBranch: undefined,
        swingOne: undefined,
        swingOther: undefined,
        ...change,
      },
    });
    return service.call('bench.close', closing(card, [entry]));
  }

  it('several devices of one main that blame the supply are one cause, and close with it', async () => {
    const service = await sampleService();
    await blame(service, 'TC-N1-02');
    expect((await service.call('followUps.list', {})).common).toEqual([]);
    await blame(service, 'TC-N1-03');
    await blame(service, 'TC-N2-03');
    const { common } = await service.call('followUps.list', {});
    expect(common).toMatchObject([
      {
        main: 'HM-N',
        followUps: [{ tag: 'TC-N1-02' }, { tag: 'TC-N1-03' }, { tag: 'TC-N2-03' }],
        on: [{ tag: 'HM-N', class: 'main' }, { tag: 'PRV-HN' }],
      },
    ]);
    const [cause] = common;
    const ids = cause.followUps.map(({ id }) => id);
    const join = { ids, deviceId: cause.on[1].deviceId, personId: 1, cause: 'supply not right at 3 devices' };
    const { id } = await service.call('followUps.join', join);
    const after = await service.call('followUps.list', {});
    expect(after.common).toEqual([]);
    const one = after.rows.find((row) => row.id === id);
    expect([one?.tag, one?.symptom, one?.parts.toSorted((a, b) => a - b)]).toEqual([
      'PRV-HN',
      'main above its setting',
      ids,
    ]);
    await expect(service.call('followUps.join', join)).rejects.toMatchObject({ code: 'conflict' });
    await service.call('followUps.assign', { id, version: one?.version ?? 0, personId: 2 });
    await expect(
      service.call('followUps.close', { id, version: one?.version ?? 0, personId: 2, note: 'seat cleaned' }),
    ).rejects.toMatchObject({ code: 'stale_version' });
    await service.call('followUps.close', {
      id,
      version: (one?.version ?? 0) + 1,
      personId: 2,
      note: 'seat cleaned',
    });
    const all = await service.call('followUps.list', { openOnly: false });
    expect(ids.map((part) => all.rows.find((row) => row.id === part)?.closingNote)).toEqual(
      ids.map(() => `closed with follow-up ${id}: seat cleaned`),
    );
  });

  it('a later record of the device closes one; an earlier one, or another device’s, does not', async () => {
    const service = await sampleService();
    const failed = await blame(service, 'TC-N1-02');
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    const [offered] = closed.closable;
    expect(offered).toMatchObject({ id: failed.followUps[0].id, tag: 'TC-N1-02' });
    const close = { id: offered.id, version: offered.version, personId: 1, note: 'relay freed' };
    for (const calibrationId of [failed.records[0].calibrationId, 1])
      await expect(service.call('followUps.close', { ...close, calibrationId })).rejects.toMatchObject({
        details: { problems: [{ column: 'calibrationId' }] },
      });
    await service.call('followUps.close', { ...close, calibrationId: closed.records[0].calibrationId });
    const { rows } = await service.call('followUps.list', { openOnly: false });
    expect(rows.find((row) => row.id === offered.id)).toMatchObject({
      closingCalibrationId: closed.records[0].calibrationId,
      closedBy: 'OV',
    });
  });
});
