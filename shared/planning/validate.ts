/** Refuses an instance that contradicts itself, before anything is planned. */
import { InstanceError } from './instance.ts';
import type { PlanInstance } from './instance.ts';

function requireUnique(ids: readonly string[], what: string): void {
  const seen = new Set<string>();
  for (const id of ids) {
    if (seen.has(id)) throw new InstanceError(`two ${what} are called ${id}`);
    seen.add(id);
  }
}

/** Throws InstanceError naming the first contradiction; answers nothing when the instance is sound. */
export function requireSoundInstance(instance: PlanInstance): void {
  const slots = instance.slots.length;
  requireUnique(
    instance.crews.map((crew) => crew.id),
    'persons',
  );
  requireUnique(
    (instance.mains ?? []).map((main) => main.id),
    'mains',
  );
  requireUnique(
    instance.tasks.map((task) => task.id),
    'tasks',
  );
  for (const [index, slot] of instance.slots.entries())
    if (index > 0 && slot.day < instance.slots[index - 1].day)
      throw new InstanceError(`slot ${index} lies on an earlier day than the one before it`);
  for (const crew of instance.crews)
    for (const list of [crew.regular, crew.overtime])
      if (list && list.length !== slots)
        throw new InstanceError(`person ${crew.id} has minutes for ${list.length} of ${slots} slots`);
  for (const main of instance.mains ?? [])
    if (main.natural && main.natural.length !== slots)
      throw new InstanceError(`main ${main.id} has states for ${main.natural.length} of ${slots} slots`);
  const mains = new Set((instance.mains ?? []).map((main) => main.id));
  const tasks = new Set(instance.tasks.map((task) => task.id));
  for (const task of instance.tasks) {
    if (!(Number.isInteger(task.min) && task.min >= 0))
      throw new InstanceError(`task ${task.id} has no whole minutes`);
    if (task.state !== undefined && (task.main === undefined || !mains.has(task.main)))
      throw new InstanceError(`task ${task.id} needs a state of a main that is not listed`);
    for (const [name, value] of [
      ['weight', task.weight],
      ['due', task.due],
      ['unscheduled', task.unscheduled],
      ['portableMin', task.portableMin],
    ] as const)
      if (value !== undefined && !Number.isSafeInteger(value))
        throw new InstanceError(`task ${task.id}: ${name} is not a whole number`);
    for (const fixed of [task.frozen, task.published])
      if (fixed && !(fixed[0] >= 0 && fixed[0] < slots && fixed[1] >= 0 && fixed[1] < instance.crews.length))
        throw new InstanceError(`task ${task.id} is fixed to a slot or person that is not listed`);
    for (const id of task.preds ?? [])
      if (!tasks.has(id)) throw new InstanceError(`task ${task.id} waits for ${id}, which is not listed`);
  }
}
