/** Groups and intervals over the sample book: worked out in a worker, accepted by the manager, kept in the chain. */
import { describe, expect, it } from 'vitest';
import type { Service } from '../../service/service.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { headHash, plainFileStyle, sampleService, upload } from '../support/books.ts';

type Recommended = OutputOf<'intervals.recommend'>;

function changesOf({ points }: Recommended) {
  return points.flatMap(({ testPointId, recommendation: { presentDays, days } }) =>
    days === presentDays ? [] : [{ testPointId, from: presentDays, to: days }],
  );
}

async function dueOf(service: Service, testPointId: number) {
  const row = await service.book.reader
    .selectFrom('test_point')
    .select(['interval_days', 'last_done_on', 'due_on'])
    .where('id', '=', testPointId)
    .executeTakeFirstOrThrow();
  return row;
}

describe('a reading is answered once', () => {
  it('though it was taken on the very day, and nothing is said of a new device by the old one', async () => {
    const service = await sampleService();
    const valve = await service.call('register.find', { tag: 'VH-N1-01' });
    const page = await service.call('register.device', { id: valve.id ?? 0 });
    const point = page.testPoints.find(({ kind }) => kind === 'spring end');
    const person = await service.book.reader.selectFrom('person').select('id').executeTakeFirstOrThrow();
    const report = await service.runJob('records.load', {
      files: [
        upload(
          'today.csv',
          'tag,kind,done_on,person,outcome,value_found,value_left\nVH-N1-01,spring end,2026-11-25,OV,adjusted,10,8\n',
        ),
      ],
      style: plainFileStyle,
      dryRun: false,
    });
    expect(report.problems).toEqual([]);
    const own = async () =>
      (await service.runJob('intervals.recommend', {})).points.find((one) => one.testPointId === point?.id)
        ?.recommendation;
    const first = await own();
    expect([first?.presentDays, first?.days]).toEqual([730, 365]);
    await service.call(
      'intervals.accept',
      { why: 'it moved', points: [{ testPointId: point?.id ?? 0, from: 730, to: 365 }], classes: [] },
      person.id,
    );
    expect(await own()).toMatchObject({ presentDays: 365, days: 365 });
  });
});

describe('drift groups', () => {
  it.each(['class', 'kind', 'main', 'level', 'age', 'room use', 'person', 'gauge'] as const)(
    'by %s: every reading once, and the same whole',
    async (by) => {
      const service = await sampleService();
      const answer = await service.runJob('drift.group', { by });
      const sum = (of: 'readings' | 'known' | 'inside'): number =>
        answer.groups.reduce((total, one) => total + one[of], 0);
      expect([sum('readings'), sum('known'), sum('inside')]).toEqual([
        answer.overall.readings,
        answer.overall.known,
        answer.overall.inside,
      ]);
      expect(answer.overall.known).toBeGreaterThan(4_000);
      expect(answer.worst.map(({ times }) => times)).toEqual(
        answer.worst.map(({ times }) => times).toSorted((a, b) => b - a),
      );
      expect(answer.worst.length).toBe(20);
      expect(JSON.stringify(answer)).not.toContain('null,null,null');
    },
  );

  it('a period, and another that it is compared with', async () => {
    const service = await sampleService();
    const answer = await service.runJob('drift.group', {
      by: 'main',
      kind: 'setpoint',
      period: { from: '2025-01-01', to: '2026-12-31' },
      compare: { from: '2019-01-01', to: '2020-12-31' },
    });
    expect(answer.compared?.after).toEqual({ known: answer.overall.known, inside: answer.overall.inside });
    expect(answer.compared?.before.known).toBeGreaterThan(300);
    await expect(
      service.runJob('drift.group', { by: 'main', period: { from: '2026-01-02', to: '2026-01-01' } }),
    ).rejects.toMatchObject({ code: 'invalid_input' });
  });
});

describe('what a main moved together', () => {
  it('is the median of the neighbours about the same days, told apart from the point’s own', async () => {
    const service = await sampleService();
    // A reference that reads 0.6 high shifts every setpoint of the main alike.
    const { rows } = await service.call('register.list', { limit: 2_000 });
    const tags = rows.map(({ tag }) => tag).filter((tag) => /^TC-N[12]-/u.test(tag));
    const { series } = await service.call('drift.ofTag', { tag: tags[0], role: 'occupied' });
    const lines: string[] = [];
    for (const tag of tags.slice(0, 9)) {
      const [own] = (await service.call('drift.ofTag', { tag, role: 'occupied' })).series;
      const left = own.points.at(-1)?.leftMilli ?? 0;
      lines.push(`${tag},occupied,2026-11-${10 + lines.length},OV,held,${(left + 600) / 1000}`);
    }
    const outside = lines.map((line) => line.replace('held', 'device failed'));
    const loaded = await service.runJob('records.load', {
      files: [upload('past.csv', `tag,role,done_on,person,outcome,error_found\n${outside.join('\n')}\n`)],
      style: plainFileStyle,
      dryRun: false,
    });
    expect(loaded.problems).toEqual([]);
    const common = await service.call('drift.common', { testPointId: series[0].testPointId });
    expect([common.main, common.shifts.at(-1)?.medianMilli, common.shifts.at(-1)?.count]).toEqual([
      'HM-N',
      600,
      8,
    ]);
  });
});

describe('recommended intervals', () => {
  it('are accepted with who and why, move the due dates, and stand in the chain', async () => {
    const service = await sampleService();
    const recommended = await service.runJob('intervals.recommend', { kind: 'setpoint' });
    expect(recommended.points.every(({ kind }) => kind === 'setpoint')).toBe(true);
    const changes = changesOf(recommended);
    expect(changes.length).toBeGreaterThan(50);
    const [first] = changes;
    const before = await dueOf(service, first.testPointId);
    const accepted = await service.call(
      'intervals.accept',
      { why: 'after the drift of eight years', points: changes, classes: [] },
      1,
    );
    expect(accepted.changed).toBe(changes.length);
    const after = await dueOf(service, first.testPointId);
    expect([after.interval_days, after.last_done_on]).toEqual([first.to, before.last_done_on]);
    expect(after.due_on === before.due_on).toBe(false);
    await headHash(service);
    const change = await service.book.reader
      .selectFrom('setting_change')
      .selectAll()
      .orderBy('id', 'desc')
      .limit(1)
      .executeTakeFirstOrThrow();
    expect(change).toMatchObject({ why: 'after the drift of eight years', person_id: 1 });
    // The same readings ask for nothing twice.
    expect(changesOf(await service.runJob('intervals.recommend', { kind: 'setpoint' }))).toEqual([]);
    // A second press, from what the book does not hold any more.
    await expect(
      service.call('intervals.accept', { why: 'again', points: changes, classes: [] }, 1),
    ).rejects.toMatchObject({ code: 'conflict' });
  });

  it('a class takes its members along that have none of their own', async () => {
    const service = await sampleService();
    const { classes } = await service.runJob('intervals.recommend', {});
    const one = classes.find(({ kind, unit }) => kind === 'setpoint' && unit === 'degF');
    if (!one?.days || one.days === one.presentDays) throw new Error('nothing to accept');
    const { changed } = await service.call(
      'intervals.accept',
      { why: 'by the fit', points: [], classes: [{ id: one.id, from: one.presentDays, to: one.days }] },
      1,
    );
    expect(changed).toBe(1);
    const { classDefaults } = await service.call('settings.all', {});
    expect(classDefaults.find(({ id }) => id === one.id)?.intervalDays).toBe(one.days);
    await headHash(service);
  });

  it.each([
    [{ why: ' ' }, 1, 'invalid_input'],
    [{ points: [{ testPointId: 99_999, from: 365, to: 182 }] }, 1, 'not_found'],
    [{}, null, 'invalid_input'],
  ])('%o by %s is refused as %s', async (change, personId, code) => {
    const service = await sampleService();
    const head = await headHash(service);
    await expect(
      service.call(
        'intervals.accept',
        { why: 'so', points: [], classes: [], ...change },
        personId ?? undefined,
      ),
    ).rejects.toMatchObject({ code });
    expect(await headHash(service)).toBe(head);
  });

  it('go by the policy of the book', async () => {
    const service = await sampleService();
    const { policy, version } = await service.call('intervals.policy', {});
    await service.call(
      'intervals.savePolicy',
      { policy: { ...policy, mostDays: 365 }, version, why: 'yearly at least' },
      1,
    );
    const { points } = await service.runJob('intervals.recommend', {});
    expect(Math.max(...changesOf({ points } as Recommended).map(({ to }) => to))).toBeLessThanOrEqual(365);
    await expect(
      service.call(
        'intervals.savePolicy',
        { policy: { ...policy, leastDays: 2_000 }, version: version + 1, why: 'so' },
        1,
      ),
    ).rejects.toMatchObject({ code: 'invalid_input' });
    await headHash(service);
  });
});
