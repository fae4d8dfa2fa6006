/** Why, moves by hand, pins and the re-draw, on the sample site's round. */
import { describe, expect, it } from 'vitest';
import type { Service } from '../../service/service.ts';
import { checkAssignment } from '../../shared/planning/check.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import { sampleService } from '../support/books.ts';

async function drawn(): Promise<Service> {
  const service = await sampleService();
  await service.runJob('rounds.draw', {
    from: '2027-01-01',
    to: '2027-12-31',
    seed: 1,
    evaluations: 200_000,
  });
  return service;
}

describe('a drawn round', () => {
  it('explains each task of a tag, with priced other places', async () => {
    const service = await drawn();
    const { tasks } = await service.call('rounds.why', { tag: 'TC-E1-01' });
    expect(new Set(tasks.map((task) => task.role))).toEqual(new Set(['occupied', 'unoccupied']));
    for (const task of tasks) {
      expect(task.place).not.toBe(null);
      expect(task.others.length).toBe(3);
      const differences = task.others.map((other) => other.difference);
      expect(differences).toEqual(differences.toSorted((a, b) => a - b));
    }
    await expect(service.call('rounds.why', { tag: 'TC-NOBODY' })).rejects.toMatchObject({
      code: 'not_found',
    });
  });

  it('a move is priced, refused with what it breaks, and when made changes total and visits by just that', async () => {
    const service = await drawn();
    const { tasks } = await service.call('rounds.why', { tag: 'TC-E1-01' });
    const [task] = tasks;
    const [other] = task.others;
    const place = { date: other.date, shift: other.shift, person: other.person };
    const priced = await service.call('rounds.priceMove', { task: task.id, ...place });
    expect(priced.difference).toBe(other.difference);
    const before = await service.call('rounds.show', {});
    const { id, version } = before.round;
    await service.call('rounds.move', { id, version, task: task.id, ...place });
    const after = await service.call('rounds.show', {});
    expect(after.figures.total - before.figures.total).toBe(other.difference);
    const instance = (await service.call('rounds.instance', {})) as unknown as PlanInstance;
    expect(checkAssignment(instance, after.assignment)).toEqual([]);
    expect(evaluate(instance, after.assignment).total).toBe(after.figures.total);
    const changed = Object.keys(after.assignment).filter(
      (key) => JSON.stringify(after.assignment[key]) !== JSON.stringify(before.assignment[key]),
    );
    expect(changed).toEqual([task.id]);
    await expect(
      service.call('rounds.move', {
        id,
        version: version + 1,
        task: task.id,
        ...place,
        date: '2027-12-30',
      }),
    ).rejects.toMatchObject({
      code: 'conflict',
      details: { problems: expect.arrayContaining([expect.objectContaining({ column: 'window' })]) },
    });
    await expect(service.call('rounds.move', { id, version, task: task.id, ...place })).rejects.toMatchObject(
      {
        code: 'stale_version',
      },
    );
  });

  it('a re-draw after an absence keeps pins, moves what must move, says why, and leaves the old round', async () => {
    const service = await drawn();
    const before = await service.call('rounds.show', {});
    const pinned = before.visits.find((visit) => visit.date > '2027-06-01')?.tasks[0].id ?? '';
    await service.call('rounds.pin', { id: before.round.id, task: pinned, pinned: true });
    const { people } = await service.call('settings.all', {});
    const person = people.find((one) => before.visits.some((visit) => visit.person === one.initials));
    if (!person) throw new Error('nobody works');
    const { id, version, name, initials, skills, active, shiftIds, absences } = person;
    await service.call('settings.savePerson', {
      id,
      version,
      name,
      initials,
      skills,
      active,
      shiftIds,
      absences: [...absences, { from: '2027-02-01', to: '2027-02-14', reason: 'away' }],
    });
    const again = await service.runJob('rounds.redraw', {
      id: before.round.id,
      seed: 1,
      evaluations: 200_000,
    });
    const after = await service.call('rounds.show', { id: again.roundId });
    const instance = (await service.call('rounds.instance', {
      id: again.roundId,
    })) as unknown as PlanInstance;
    expect(checkAssignment(instance, after.assignment)).toEqual([]);
    expect(
      after.visits.some(
        (visit) => visit.person === initials && visit.date >= '2027-02-01' && visit.date <= '2027-02-14',
      ),
    ).toBe(false);
    const whereOf = (show: typeof before, key: string) =>
      show.visits.find((visit) => visit.tasks.some((task) => task.id === key))?.date;
    expect(whereOf(after, pinned)).toBe(whereOf(before, pinned));
    const lost = before.visits
      .filter(
        (visit) => visit.person === initials && visit.date >= '2027-02-01' && visit.date <= '2027-02-14',
      )
      .flatMap((visit) => visit.tasks.map((task) => task.id));
    const reasons = new Map(again.moved.map((one) => [one.task, one.reason]));
    for (const key of lost)
      if (whereOf(after, key) !== whereOf(before, key)) expect(reasons.get(key)).toMatch(/\w/);
    expect((await service.call('rounds.show', { id: before.round.id })).assignment).toEqual(
      before.assignment,
    );
  });
});
