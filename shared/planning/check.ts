/**
 * The independent checker: is a plan feasible? It reads the instance and the assignment only, shares no
 * code with the planner, and lists every breach with the constraint's name. An empty list means feasible.
 */
import type { Assignment, DrawnVisit, PlanInstance, PlanTask } from './instance.ts';

export type Breach = { task: string; constraint: string; detail: string };

type Placed = { task: PlanTask; slot: number; crew: number; portable: boolean };

/** Every breach of an assignment, in task order. */
export function checkAssignment(instance: PlanInstance, assignment: Assignment): Breach[] {
  const breaches: Breach[] = [];
  const placed = new Map<string, Placed>();
  const known = new Set(instance.tasks.map((task) => task.id));
  for (const id of Object.keys(assignment))
    if (!known.has(id)) breaches.push({ task: id, constraint: 'known task', detail: 'not in the instance' });
  for (const task of instance.tasks) {
    if (!Object.hasOwn(assignment, task.id)) {
      breaches.push({ task: task.id, constraint: 'answered', detail: 'neither placed nor left out' });
      continue;
    }
    const place = assignment[task.id];
    if (place === null) {
      if (task.frozen) breaches.push({ task: task.id, constraint: 'frozen', detail: 'fixed, but left out' });
      continue;
    }
    if (task.putOff) breaches.push({ task: task.id, constraint: 'put off', detail: 'put off, but placed' });
    const crew = instance.crews.findIndex((one) => one.id === place.crew);
    if (crew < 0 || !Number.isInteger(place.slot) || place.slot < 0 || place.slot >= instance.slots.length) {
      breaches.push({
        task: task.id,
        constraint: 'place',
        detail: `slot ${place.slot}, person ${place.crew}`,
      });
      continue;
    }
    if (place.portable && task.portableMin === undefined)
      breaches.push({ task: task.id, constraint: 'portable supply', detail: 'there is no such way' });
    placed.set(task.id, { task, slot: place.slot, crew, portable: place.portable === true });
    breaches.push(...windowBreaches(instance, task, place.slot, crew));
  }
  breaches.push(...precedenceBreaches(placed));
  breaches.push(...capacityBreaches(instance, placed));
  breaches.push(...airBreaches(instance, placed));
  return breaches;
}

function windowBreaches(instance: PlanInstance, task: PlanTask, slot: number, crew: number): Breach[] {
  const breaches: Breach[] = [];
  const fail = (constraint: string, detail: string): void => {
    breaches.push({ task: task.id, constraint, detail });
  };
  const { day } = instance.slots[slot];
  if (task.earliest !== undefined && day < task.earliest)
    fail('earliest', `day ${day} before ${task.earliest}`);
  if (task.latest !== undefined && day > task.latest) fail('latest', `day ${day} after ${task.latest}`);
  if (task.open && !task.open.some(([from, to]) => slot >= from && slot <= to))
    fail('open shifts', `slot ${slot}`);
  const skills = instance.crews[crew].skills ?? ['*'];
  const skill = task.skill ?? '*';
  if (skill !== '*' && !skills.includes('*') && !skills.includes(skill)) fail('skill', skill);
  if (task.frozen && (task.frozen[0] !== slot || task.frozen[1] !== crew)) fail('frozen', 'moved');
  return breaches;
}

function precedenceBreaches(placed: Map<string, Placed>): Breach[] {
  const breaches: Breach[] = [];
  for (const { task, slot, crew } of placed.values()) {
    for (const id of task.preds ?? []) {
      const before = placed.get(id);
      if (!before) breaches.push({ task: task.id, constraint: 'predecessor', detail: `${id} is left out` });
      else if (before.slot > slot || (before.slot === slot && before.crew !== crew))
        breaches.push({ task: task.id, constraint: 'predecessor', detail: `${id} is not done before` });
    }
  }
  // A cycle inside one slot and one person would pass the pairwise test above.
  for (const id of waitingForThemselves(placed))
    breaches.push({ task: id, constraint: 'precedence cycle', detail: 'waits for itself' });
  return breaches;
}

/** Placed tasks that can never come, each being on a cycle or behind one: what is left when all that is ready has come. */
function waitingForThemselves(placed: Map<string, Placed>): string[] {
  const left = new Map<string, number>();
  const next = new Map<string, string[]>();
  for (const [id, { task }] of placed) {
    const before = (task.preds ?? []).filter((one) => placed.has(one));
    left.set(id, before.length);
    for (const one of before) next.set(one, [...(next.get(one) ?? []), id]);
  }
  const ready = [...left.keys()].filter((id) => left.get(id) === 0);
  for (let id = ready.pop(); id !== undefined; id = ready.pop()) {
    left.delete(id);
    for (const other of next.get(id) ?? []) {
      const count = (left.get(other) ?? 0) - 1;
      left.set(other, count);
      if (count === 0) ready.push(other);
    }
  }
  return [...left.keys()];
}

function capacityBreaches(instance: PlanInstance, placed: Map<string, Placed>): Breach[] {
  const minutes = new Map<string, number>();
  const once = new Set<string>();
  const first = new Map<string, string>();
  const mains = new Map((instance.mains ?? []).map((main) => [main.id, main]));
  for (const { task, slot, crew, portable } of placed.values()) {
    const key = `${slot}/${crew}`;
    first.set(key, first.get(key) ?? task.id);
    let used = portable ? (task.portableMin ?? task.min) : task.min;
    const onceOnly = (what: string, cost: number): void => {
      if (!once.has(`${key}/${what}`)) used += cost;
      once.add(`${key}/${what}`);
    };
    if (task.building !== undefined) onceOnly(`building ${task.building}`, instance.travel?.building ?? 0);
    if (task.floor !== undefined)
      onceOnly(`floor ${task.building ?? ''}/${task.floor}`, instance.travel?.floor ?? 0);
    const main = portable ? undefined : mains.get(task.main ?? '');
    if (main && task.state)
      if (main.policy === 'hold') onceOnly(`main ${main.id} ${task.state}`, main.switchMin ?? 0);
      else if (task.state !== (main.natural?.[slot] ?? 'L'))
        onceOnly(`main ${main.id}`, 2 * (main.switchMin ?? 0));
    minutes.set(key, (minutes.get(key) ?? 0) + used);
  }
  const breaches: Breach[] = [];
  for (const [key, used] of minutes) {
    const [slot, crew] = key.split('/').map(Number);
    const limit = instance.crews[crew].regular[slot] + (instance.crews[crew].overtime?.[slot] ?? 0);
    if (limit <= 0)
      breaches.push({
        task: first.get(key) ?? '',
        constraint: 'person absent',
        detail: `slot ${slot}, ${instance.crews[crew].id}`,
      });
    else if (used > limit)
      breaches.push({
        task: first.get(key) ?? '',
        constraint: 'capacity',
        detail: `slot ${slot}, ${instance.crews[crew].id}: ${used} of ${limit} minutes`,
      });
  }
  return breaches;
}

function airBreaches(instance: PlanInstance, placed: Map<string, Placed>): Breach[] {
  const breaches: Breach[] = [];
  const mains = new Map((instance.mains ?? []).map((main) => [main.id, main]));
  for (const { task, slot, portable } of placed.values()) {
    if (task.main === undefined || task.state === undefined || portable) continue;
    const main = mains.get(task.main);
    if (!main) {
      breaches.push({ task: task.id, constraint: 'known main', detail: task.main });
      continue;
    }
    if (main.unsettled?.includes(slot))
      breaches.push({ task: task.id, constraint: 'settled air', detail: `slot ${slot}` });
    if (task.state !== (main.natural?.[slot] ?? 'L') && main.forcible && !main.forcible.includes(slot))
      breaches.push({ task: task.id, constraint: 'switching policy', detail: `${main.id} in slot ${slot}` });
  }
  return breaches;
}

/**
 * Checks the order of visits inside every shift: each placed task is in exactly one visit of its slot and
 * person, a visit has one place and one air state, and no task comes before one that it waits for.
 */
export function checkVisits(
  instance: PlanInstance,
  assignment: Assignment,
  visits: readonly DrawnVisit[],
): Breach[] {
  const breaches: Breach[] = [];
  const tasks = new Map(instance.tasks.map((task) => [task.id, task]));
  const position = new Map<string, number>();
  let count = 0;
  for (const visit of [...visits].sort((a, b) => a.slot - b.slot || a.order - b.order)) {
    for (const id of visit.tasks) {
      const task = tasks.get(id);
      const place = assignment[id];
      if (!task || !place || place.slot !== visit.slot || place.crew !== visit.crew || position.has(id))
        breaches.push({ task: id, constraint: 'one visit', detail: `slot ${visit.slot}` });
      if (task && (task.room ?? null) !== visit.room)
        breaches.push({
          task: id,
          constraint: 'one place',
          detail: `${task.room} in a visit to ${visit.room}`,
        });
      if (
        task &&
        task.state !== undefined &&
        !place?.portable &&
        (task.state !== visit.state || task.main !== visit.main)
      )
        breaches.push({ task: id, constraint: 'one air state', detail: `visit ${visit.order}` });
      position.set(id, (count += 1));
    }
  }
  for (const task of instance.tasks) {
    const place = assignment[task.id];
    if (!place) continue;
    if (!position.has(task.id))
      breaches.push({ task: task.id, constraint: 'one visit', detail: 'in no visit' });
    for (const id of task.preds ?? []) {
      const before = assignment[id];
      const sameShift = before && before.slot === place.slot && before.crew === place.crew;
      if (sameShift && (position.get(id) ?? 0) > (position.get(task.id) ?? 0))
        breaches.push({ task: task.id, constraint: 'order in the shift', detail: `before ${id}` });
    }
  }
  return breaches;
}
