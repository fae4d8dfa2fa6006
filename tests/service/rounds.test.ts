import { writeBook } from '../../db/book.ts';
import { describe, expect, it } from 'vitest';
import { execFileSync } from 'node:child_process';
import { existsSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { checkAssignment } from '../../shared/planning/check.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import {
  drawnSample,
  emptyService,
  headHash,
  loadRegisterText,
  sampleService,
  temporaryFolder,
} from '../support/books.ts';

const year = { from: '2027-01-01', to: '2027-12-31' };

describe('the round of the sample site', () => {
  it('is feasible by the independent checker, and costs what the evaluator says', async () => {
    const { service, roundId } = await drawnSample();
    const instance = (await service.call('rounds.instance', { id: roundId })) as unknown as PlanInstance;
    const show = await service.call('rounds.show', { id: roundId });
    expect(checkAssignment(instance, show.assignment)).toEqual([]);
    const { total, parts } = evaluate(instance, show.assignment);
    expect(show.figures).toMatchObject({
      total,
      weightedDaysLate: parts.tardiness,
      switchovers: parts.switchovers,
      walkingMinutes: parts.walkMin,
    });
    expect(show.figures.placed).toBeGreaterThan(450);
    expect(Object.keys(show.assignment).sort()).toEqual(instance.tasks.map((task) => task.id).sort());
  });

  it('keeps station before regulator before relay before controllers, date by date', async () => {
    const { service } = await drawnSample();
    const { visits } = await service.call('rounds.show', {});
    const first = new Map<string, string>();
    for (const visit of visits)
      for (const task of visit.tasks)
        if (!first.has(task.tag))
          first.set(
            task.tag,
            `${visit.date} ${visit.shift === 'dawn' ? 0 : 1} ${String(visit.order).padStart(3, '0')}`,
          );
    const at = (tag: string): string => first.get(tag) ?? '9';
    expect([
      at('AS-HALL') <= at('PRV-HN'),
      at('PRV-HN') <= at('SR-HN'),
      at('SR-HN') <= at('TC-N1-01'),
    ]).toEqual([true, true, true]);
    const instance = (await service.call('rounds.instance', {})) as unknown as PlanInstance;
    const springs = new Set(
      instance.tasks.filter((task) => task.kind === 'spring range').map((task) => task.id),
    );
    const calibratedToOne = instance.tasks.filter((task) => task.preds?.some((id) => springs.has(id)));
    expect(calibratedToOne.length).toBeGreaterThan(3);
    for (const task of calibratedToOne) {
      const valve = (task.preds ?? []).find((id) => springs.has(id)) ?? '';
      expect(at(valve.split('/')[0]) <= at(task.tag ?? '')).toBe(true);
    }
  });

  it('makes one excursion per main and shift, after what is done in the natural state, and only where its policy allows', async () => {
    const { service } = await drawnSample();
    const { visits } = await service.call('rounds.show', {});
    const states = new Map<string, string[]>();
    for (const visit of visits) {
      if (!visit.main || !visit.airState) continue;
      const key = `${visit.date} ${visit.shift} ${visit.person} ${visit.main}`;
      const list = states.get(key) ?? [];
      if (list.at(-1) !== visit.airState) list.push(visit.airState);
      states.set(key, list);
    }
    expect(Math.max(...[...states.values()].map((list) => list.length))).toBeLessThanOrEqual(2);
    const forcedNorth = visits.filter(
      (visit) => visit.main === 'HM-N' && visit.airState === 'high' && visit.shift === 'day',
    );
    expect(forcedNorth).toEqual([]);
  });

  it('nobody works on a day off, a weekend or an absence', async () => {
    const { service } = await drawnSample();
    const { visits } = await service.call('rounds.show', {});
    const dates = new Set(visits.map((visit) => visit.date));
    for (const off of ['2027-01-01', '2027-03-26', '2027-01-02', '2027-01-03'])
      expect(dates.has(off)).toBe(false);
    expect(
      visits.filter(
        (visit) => visit.person === 'OV' && visit.date >= '2027-04-12' && visit.date <= '2027-04-23',
      ),
    ).toEqual([]);
  });

  it('rooms with access windows are entered only in shifts that lie inside them', async () => {
    const { service } = await drawnSample();
    const { visits, unplaced } = await service.call('rounds.show', {});
    const restricted = visits.filter((visit) => visit.room === 'N3-08' || visit.room === 'N4-02');
    expect(restricted.length).toBeGreaterThan(0);
    expect(restricted.every((visit) => visit.shift === 'day')).toBe(true);
    expect(unplaced.map((task) => task.id)).toContain('TC-N3-08/unoccupied');
  });

  it('the same book, period and seed give the same round', async () => {
    const one = await drawnSample();
    const two = await drawnSample();
    const show = async ({ service, roundId }: typeof one) =>
      JSON.stringify((await service.call('rounds.show', { id: roundId })).assignment);
    expect(await show(one)).toBe(await show(two));
  });

  it('still passes the checker after a person’s initials have changed', async () => {
    const { service, roundId } = await drawnSample();
    const { people } = await service.call('settings.all', {});
    await service.call('settings.savePerson', { ...people[0], initials: 'XX' });
    const instance = (await service.call('rounds.instance', { id: roundId })) as unknown as PlanInstance;
    const show = await service.call('rounds.show', { id: roundId });
    expect(checkAssignment(instance, show.assignment)).toEqual([]);
    expect(show.visits.some((visit) => visit.person === 'XX')).toBe(true);
  });

  it('is issued into the chain, and cannot be discarded then', async () => {
    const { service, roundId } = await drawnSample();
    const { round } = await service.call('rounds.show', { id: roundId });
    const issued = await service.call('rounds.issue', { id: roundId, version: round.version });
    await expect(service.call('rounds.issue', { id: roundId, version: round.version })).rejects.toMatchObject(
      { code: 'stale_version' },
    );
    await expect(
      service.call('rounds.discard', { id: roundId, version: issued.round.version }),
    ).rejects.toMatchObject({ code: 'conflict' });
    await headHash(service);
  });

  it('a draft can be discarded whole', async () => {
    const { service, roundId } = await drawnSample();
    await service.call('rounds.discard', { id: roundId, version: 1 });
    expect((await service.call('rounds.list', {})).rounds).toEqual([]);
    expect(await service.book.reader.selectFrom('task').select('id').execute()).toEqual([]);
  });
});

describe('day sheets', () => {
  it('list the boxes of the card with what they should read, and print as a PDF that says the same', async () => {
    const { service, roundId } = await drawnSample();
    const overview = await service.call('rounds.overview', { id: roundId });
    const day = overview.days.find((one) => one.people.length > 0 && one.date > '2027-03-01');
    const key = { roundId, date: day?.date ?? '', personId: day?.people[0].personId ?? 0 };
    const sheet = await service.call('rounds.daySheet', key);
    expect(sheet.shifts[0].loadMinutes).toBe(day?.people[0].loadMinutes);
    const task = sheet.shifts.flatMap((shift) => shift.visits).flatMap((visit) => visit.tasks)[0];
    expect(task.boxes.length).toBeGreaterThan(1);
    const pdf = await service.call('rounds.daySheetPdf', key);
    expect(Buffer.from(pdf.bytes.subarray(0, 5)).toString()).toBe('%PDF-');
    const file = path.join(temporaryFolder(), 'sheet.pdf');
    writeFileSync(file, pdf.bytes);
    expect(existsSync('/usr/bin/pdftotext')).toBe(true);
    const text = execFileSync('/usr/bin/pdftotext', ['-layout', file, '-'], { encoding: 'utf8' });
    expect(text).toContain(task.tag);
    expect(text).toContain('should read');
    expect(text).toContain('lock out, tag out');
    expect(text).toContain((await headHash(service)).slice(0, 32));
  });
  it('no access is noted with its reason', async () => {
    const { service } = await drawnSample();
    const { visits } = await service.call('rounds.show', {});
    await service.call('rounds.noAccess', { visitId: visits[0].visitId, reason: 'locked' });
    expect((await service.call('rounds.show', {})).visits[0].noAccess).toBe('locked');
  });
});

describe('a round that cannot be drawn', () => {
  it.each([
    ['a period that ends before it begins', { from: '2027-02-01', to: '2027-01-01' }, 'invalid_input'],
    ['a date that does not exist', { from: '2027-02-30', to: '2027-12-31' }, 'invalid_input'],
    ['a period of ten years', { from: '2027-01-01', to: '2036-12-31' }, 'invalid_input'],
    ['a period without a working day', { from: '2027-01-02', to: '2027-01-03' }, 'conflict'],
  ])('%s', async (_words, period, code) => {
    const service = await sampleService();
    await expect(service.runJob('rounds.draw', period)).rejects.toMatchObject({ code });
  });
  it('the sample site has every kind of main: one that changes by itself, one held in a shut building, one with a portable supply', async () => {
    const { service } = await drawnSample(300_000);
    const instance = (await service.call('rounds.instance', {})) as unknown as PlanInstance;
    const { assignment, visits } = await service.call('rounds.show', {});
    expect(checkAssignment(instance, assignment)).toEqual([]);
    const mains = instance.mains ?? [];
    expect(mains.filter((main) => main.policy === 'hold').map((main) => main.id)).toEqual(['ZM-S']);
    expect(mains.some((main) => new Set(main.natural).size === 2)).toBe(true);
    expect(instance.tasks.some((task) => task.portableMin !== undefined || task.byPortable)).toBe(true);
    // The shut building is worked in both of its states.
    const states = visits.filter((visit) => visit.main === 'ZM-S').map((visit) => visit.airState);
    expect(new Set(states)).toEqual(new Set(['low', 'high']));
  });

  it('a main that an older book holds as retired leaves its setpoints unplaced, each with the reason', async () => {
    const service = await sampleService();
    await writeBook(service.book, (db) =>
      db.updateTable('device').set({ retired_on: '2020-01-01' }).where('tag', '=', 'HM-N').execute(),
    );
    const { roundId } = await service.runJob('rounds.draw', year);
    const { unplaced } = await service.call('rounds.show', { id: roundId });
    const ofMain = unplaced.filter((task) => task.detail.includes('is retired'));
    expect(ofMain.length).toBeGreaterThan(20);
    expect(new Set(ofMain.map((task) => task.tag.slice(0, 4)))).toEqual(new Set(['TC-N']));
  });
  it('nobody to send', async () => {
    const service = await emptyService();
    await loadRegisterText(service, 'class,building\nbuilding,B\n');
    await expect(service.runJob('rounds.draw', year)).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('Settings'),
    });
  });
  it('a draw that is cancelled leaves the book as it was', async () => {
    const service = await sampleService();
    await expect(service.runJob('rounds.draw', year, { cancelled: () => true })).rejects.toMatchObject({
      code: 'cancelled',
    });
    expect((await service.call('rounds.list', {})).rounds).toEqual([]);
  });
});
