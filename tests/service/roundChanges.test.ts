/** Why, moves by hand, pins and the re-draw, on the sample site's round. */
import { describe, expect, it } from 'vitest';
import type { Service } from '../../service/service.ts';
import { checkAssignment } from '../../shared/planning/check.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { isHandedOver, shiftPlaceText } from '../../shared/contract/shiftPlace.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import { drawnSample } from '../support/books.ts';

async function drawn(): Promise<Service> {
  return (await drawnSample(200_000)).service;
}

type Person = OutputOf<'settings.all'>['people'][number];

async function sendAway(service: Service, person: Person, days: { from: string; to: string }): Promise<void> {
  const { id, version, name, initials, skills, active, shiftIds, absences } = person;
  await service.call('settings.savePerson', {
    id,
    version,
    name,
    initials,
    skills,
    active,
    shiftIds,
    absences: [...absences, { ...days, reason: 'away' }],
  });
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
    const priced = await service.call('rounds.priceMove', { task: task.id, to: place });
    expect(priced.difference).toBe(other.difference);
    const before = await service.call('rounds.show', {});
    const { id, version } = before.round;
    await service.call('rounds.move', { id, version, task: task.id, to: place });
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
        to: { ...place, date: '2027-12-30' },
      }),
    ).rejects.toMatchObject({
      code: 'conflict',
      details: { problems: expect.arrayContaining([expect.objectContaining({ column: 'window' })]) },
    });
    await expect(
      service.call('rounds.move', { id, version, task: task.id, to: place }),
    ).rejects.toMatchObject({
      code: 'stale_version',
    });
  });

  it('a task put off has no place, is refused while others wait for it, and stays off in a re-draw', async () => {
    const service = await drawn();
    const before = await service.call('rounds.show', {});
    const { id } = before.round;
    const off = { task: 'TC-E1-01/occupied', to: null };
    const priced = await service.call('rounds.priceMove', off);
    expect(priced.breaches).toEqual([]);
    await service.call('rounds.move', { id, version: before.round.version, ...off });
    const after = await service.call('rounds.show', {});
    expect(after.assignment[off.task]).toBe(null);
    expect(after.figures.total - before.figures.total).toBe(priced.difference);
    expect(after.figures.placed).toBe(before.figures.placed - 1);
    const instance = (await service.call('rounds.instance', {})) as unknown as PlanInstance;
    expect(instance.tasks.find((task) => task.id === off.task)?.putOff).toBe(true);
    const overview = await service.call('rounds.overview', {});
    expect(overview.unplaced.find((one) => one.id === off.task)?.reason).toBe('put off by hand');
    // The proof of a main waits for its relay, and its setpoints for the proof.
    const relay = await service.call('rounds.priceMove', { task: 'SR-AE/relay check', to: null });
    expect(relay.difference).toBe(null);
    expect(relay.breaches).toEqual([
      { constraint: 'awaited by', detail: expect.stringMatching(/^AM-E\/switchover proof/u) },
    ]);
    const proof = await service.call('rounds.priceMove', { task: 'AM-E/switchover proof', to: null });
    expect(proof.breaches).toEqual([
      { constraint: 'awaited by', detail: expect.stringMatching(/^TC-E.* and \d+ more$/u) },
    ]);
    const again = await service.call('rounds.priceMove', off);
    expect(again.breaches).toEqual([{ constraint: 'has no place', detail: 'it has none now' }]);
    const redrawn = await service.runJob('rounds.redraw', { id, seed: 1 });
    const kept = await service.call('rounds.show', { id: redrawn.roundId });
    expect(kept.assignment[off.task]).toBe(null);
    const [why] = (await service.call('rounds.why', { id: redrawn.roundId, tag: off.task })).tasks;
    expect(why.unplaced).toEqual({ reason: 'put off by hand', detail: '' });
    // It may be taken up again by hand.
    const [place] = why.others;
    const { version } = kept.round;
    const to = { date: place.date, shift: place.shift, person: place.person };
    await service.call('rounds.move', { id: redrawn.roundId, version, task: off.task, to });
    const taken = await service.call('rounds.show', { id: redrawn.roundId });
    expect(taken.assignment[off.task]).not.toBe(null);
    const drawnInstance = (await service.call('rounds.instance', {
      id: redrawn.roundId,
    })) as unknown as PlanInstance;
    expect(checkAssignment(drawnInstance, taken.assignment)).toEqual([]);
  });

  it('a main switched by hand in a shift that works in its natural state too is on the chart', async () => {
    const service = await drawn();
    const overview = await service.call('rounds.overview', {});
    const forcedOn = overview.days.filter((day) => day.forcedMains.length > 0).map((day) => day.date);
    const switchedOn = new Set<string>();
    for (const day of overview.days)
      for (const person of day.people) {
        const key = { roundId: overview.round.id, date: day.date, personId: person.personId };
        const sheet = await service.call('rounds.daySheet', key);
        for (const shift of sheet.shifts)
          if (shift.switching.some((one) => one.begin !== null)) switchedOn.add(day.date);
      }
    expect(switchedOn.size).toBeGreaterThan(0);
    expect(forcedOn).toEqual(expect.arrayContaining([...switchedOn]));
  });

  it('moves on a held main keep every shift in the order in which it finds the main', async () => {
    const service = await drawn();
    // A whole draw has the work of one state of this main on one day, and that of the other on the dawn of another.
    const { roundId } = await service.runJob('rounds.draw', { from: '2027-01-01', to: '2027-12-31' });
    const whole = await service.call('rounds.show', { id: roundId });
    let { version } = whole.round;
    const move = async (task: string, date: string, person: string): Promise<void> => {
      await service.call('rounds.move', { id: roundId, version, task, to: { date, shift: 'day', person } });
      version += 1;
    };
    const byDay = whole.visits.filter(({ shift }) => shift === 'day');
    const held = byDay.find(({ tasks }) => tasks.some(({ id }) => /^TC-Z1-01\/\w*occupied$/u.test(id)));
    if (!held) throw new Error('no work on the held main by day');
    const isHigh = held.tasks.some(({ id }) => id.endsWith('/unoccupied'));
    const dates = [...new Set(byDay.map(({ date }) => date))].toSorted();
    // What is moved beside it the main is found in, the day after, or left in, the day before.
    const beside = dates[dates.indexOf(held.date) + (isHigh ? 1 : -1)];
    const other = byDay.find(({ date, person }) => date === beside && person !== held.person)?.person ?? 'IM';
    let both = 0;
    const orders = new Set<string>();
    const days = [held.date, beside, beside, beside];
    for (const [at, date] of days.entries()) {
      await move(
        `TC-Z1-0${at + 1}/${isHigh ? 'occupied' : 'unoccupied'}`,
        date,
        date === held.date ? held.person : other,
      );
      for (const person of (await service.call('settings.all', {})).people) {
        const key = { roundId, date: held.date, personId: person.id };
        for (const { switching, visits: own } of (await service.call('rounds.daySheet', key)).shifts) {
          const [switched] = switching.filter((one) => one.main === 'ZM-S' && one.held?.isBoth);
          const states = own.flatMap((one) => (one.main === 'ZM-S' ? [one.airState] : []));
          if (!switched || new Set(states).size < 2) continue;
          both += 1;
          orders.add(`${switched.held?.found}`);
          expect(states[0]).toBe(switched.held?.found);
          expect(switched.begin).not.toBe(null);
        }
      }
    }
    expect(both).toBe(4);
    expect(orders.size).toBe(2);
  });

  it('whoever works on some classes only gets no other, and a task that nobody may do says so', async () => {
    const service = await drawn();
    const { people } = await service.call('settings.all', {});
    const instance = (await service.call('rounds.instance', {})) as unknown as PlanInstance;
    const show = await service.call('rounds.show', {});
    const classOf = new Map(instance.tasks.map((task) => [task.id, task.skill]));
    const ofTam = Object.entries(show.assignment).filter(([, place]) => place?.crew === 'TB');
    expect(ofTam.length).toBeGreaterThan(0);
    for (const [id] of ofTam)
      expect(people.find((one) => one.initials === 'TB')?.skills).toContain(classOf.get(id));
    for (const { id, version, name, initials, active, shiftIds, absences } of people) {
      const skills = ['controller' as const];
      await service.call('settings.savePerson', {
        id,
        version,
        name,
        initials,
        active,
        shiftIds,
        absences,
        skills,
      });
    }
    const again = await service.runJob('rounds.draw', { from: '2027-01-01', to: '2027-12-31' });
    const { unplaced } = await service.call('rounds.overview', { id: again.roundId });
    expect(unplaced.find((one) => one.kind === 'station check')).toMatchObject({
      reason: 'no person with the skill',
      detail: 'air_station',
    });
  });

  it('a round issued for the same days closes the one before', async () => {
    const service = await drawn();
    const { round } = await service.call('rounds.show', {});
    await service.call('rounds.issue', { id: round.id, version: round.version });
    const again = await service.runJob('rounds.redraw', { id: round.id, seed: 1 });
    const kept = await service.call('rounds.overview', { id: again.roundId });
    expect(kept.moved).toEqual(again.moved);
    const next = await service.call('rounds.show', { id: again.roundId });
    await service.call('rounds.issue', { id: again.roundId, version: next.round.version });
    const { rounds } = await service.call('rounds.list', {});
    expect(rounds.map(({ id, status }) => [id, status])).toEqual(
      expect.arrayContaining([
        [round.id, 'closed'],
        [again.roundId, 'issued'],
      ]),
    );
    // A draft drawn again keeps to what is in force, not to itself: with nothing changed nothing moves.
    const third = await service.runJob('rounds.redraw', { id: again.roundId, seed: 1 });
    const { tasks } = await service.call('rounds.why', { id: third.roundId, tag: 'TC-E1-01/occupied' });
    const [other] = tasks[0].others;
    const to = { date: other.date, shift: other.shift, person: other.person };
    const { round: draft } = await service.call('rounds.show', { id: third.roundId });
    expect(draft.name.match(/again from/gu)?.length).toBe(1);
    const move = { id: draft.id, version: draft.version, task: 'TC-E1-01/occupied', to };
    await service.call('rounds.move', move);
    const fourth = await service.runJob('rounds.redraw', { id: third.roundId, seed: 1 });
    expect(fourth.figures.moves + fourth.figures.handOvers).toBe(fourth.moved.length);
    const promised = await service.call('rounds.show', { id: again.roundId });
    const now = await service.call('rounds.show', { id: fourth.roundId });
    for (const one of fourth.moved)
      expect(now.assignment[one.task]).not.toEqual(promised.assignment[one.task]);
    const june = await service.runJob('rounds.draw', { from: '2027-06-01', to: '2027-06-30' });
    await expect(service.call('rounds.issue', { id: june.roundId, version: 1 })).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('is in force to 2027-12-31'),
    });
  });

  it('a tag of several tasks is not moved by guess', async () => {
    const service = await drawn();
    const { round } = await service.call('rounds.show', {});
    const place = { date: '2027-03-01', shift: 'Day', person: 'X' };
    await expect(
      service.call('rounds.move', { id: round.id, version: round.version, task: 'TC-E1-01', to: place }),
    ).rejects.toMatchObject({
      code: 'invalid_input',
      details: {
        problems: [
          { reason: 'one of them is TC-E1-01/occupied' },
          { reason: 'one of them is TC-E1-01/unoccupied' },
        ],
      },
    });
  });

  it('a re-draw from a later date leaves what is promised before it, and lists all that moves', async () => {
    const service = await drawn();
    const before = await service.call('rounds.show', {});
    const from = '2027-06-01';
    const again = await service.runJob('rounds.redraw', {
      id: before.round.id,
      from,
      seed: 1,
      evaluations: 200_000,
    });
    const after = await service.call('rounds.show', { id: again.roundId });
    const placesOf = (show: typeof before): Map<string, string> =>
      new Map(
        show.visits.flatMap((visit) => visit.tasks.map((task) => [task.id, shiftPlaceText(visit)] as const)),
      );
    const [old, now] = [placesOf(before), placesOf(after)];
    const earlier = [...old].filter(([, place]) => place < from);
    expect(earlier.length).toBeGreaterThan(20);
    for (const [task, place] of earlier) expect(now.get(task)).toBe(place);
    for (const [task, place] of now) if (place < from) expect(old.get(task)).toBe(place);
    const changed = [...old].filter(([task, place]) => now.get(task) !== place).map(([task]) => task);
    expect(again.moved.map((one) => one.task).sort()).toEqual(changed.sort());
    const listed = new Map(again.moved.map((one) => [one.task, one]));
    for (const task of changed) {
      const one = listed.get(task);
      expect(one && shiftPlaceText(one.from)).toBe(old.get(task));
      expect(one?.to ? shiftPlaceText(one.to) : undefined).toBe(now.get(task));
    }
    const handedOver = again.moved.filter((one) => isHandedOver(one)).length;
    expect(again.figures.handOvers).toBe(handedOver);
    expect(again.figures.moves).toBe(
      again.moved.filter((one) => one.to !== null && !isHandedOver(one)).length,
    );
    const instance = (await service.call('rounds.instance', {
      id: again.roundId,
    })) as unknown as PlanInstance;
    expect(checkAssignment(instance, after.assignment)).toEqual([]);
  });

  it('a pin that cannot hold is let go, one that can is kept in the new draft too', async () => {
    const service = await drawn();
    const before = await service.call('rounds.show', {});
    const { people } = await service.call('settings.all', {});
    const visits = before.visits.filter((visit) => visit.date > '2027-02-01');
    const [lost] = visits;
    const kept = visits.find((visit) => visit.date > '2027-08-01') ?? lost;
    for (const visit of [lost, kept])
      await service.call('rounds.pin', { id: before.round.id, task: visit.tasks[0].id, pinned: true });
    const person = people.find((one) => one.initials === lost.person);
    if (!person) throw new Error('nobody works');
    await sendAway(service, person, { from: lost.date, to: lost.date });
    const again = await service.runJob('rounds.redraw', {
      id: before.round.id,
      seed: 1,
      evaluations: 100_000,
    });
    const after = await service.call('rounds.show', { id: again.roundId });
    const visitOf = (key: string) =>
      after.visits.find((visit) => visit.tasks.some((task) => task.id === key));
    expect(visitOf(lost.tasks[0].id)).not.toMatchObject({ date: lost.date, person: lost.person });
    expect(visitOf(kept.tasks[0].id)).toMatchObject({ date: kept.date, person: kept.person });
    const instance = (await service.call('rounds.instance', {
      id: again.roundId,
    })) as unknown as PlanInstance;
    expect(instance.tasks.filter((task) => task.frozen).map((task) => task.id)).toEqual([kept.tasks[0].id]);
  });

  it('a re-draw after an absence keeps pins, moves what must move, says why, and leaves the old round', async () => {
    const service = await drawn();
    const before = await service.call('rounds.show', {});
    const pinned = before.visits.find((visit) => visit.date > '2027-06-01')?.tasks[0].id ?? '';
    await service.call('rounds.pin', { id: before.round.id, task: pinned, pinned: true });
    const { people } = await service.call('settings.all', {});
    const person = people.find((one) => before.visits.some((visit) => visit.person === one.initials));
    if (!person) throw new Error('nobody works');
    const { initials } = person;
    await sendAway(service, person, { from: '2027-02-01', to: '2027-02-14' });
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
    const overview = await service.call('rounds.overview', { id: again.roundId });
    const worked = overview.days.flatMap((day) => day.people.map((one) => ({ date: day.date, ...one })));
    for (const { date, personId, loadMinutes } of worked) {
      const { shifts } = await service.call('rounds.daySheet', { roundId: again.roundId, date, personId });
      expect(shifts.reduce((sum, one) => sum + one.loadMinutes, 0)).toBe(loadMinutes);
    }
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
