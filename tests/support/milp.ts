/**
 * The level-1 model as a mixed-integer program in LP text, for the referee (HiGHS). Written from the model's
 * definition in docs/planning-format.md, not from the planner: mains return, no portable supply.
 */
import highsModule from 'highs';
import type { PlanInstance } from '../../shared/planning/instance.ts';

/** The package is CommonJS: its default export is the loader, whatever its types say of a module. */
const load = highsModule as unknown as typeof highsModule.default;

type Term = [number, string];

function sum(terms: readonly Term[]): string {
  if (terms.length === 0) return '0 zero';
  return terms.map(([factor, name]) => `${factor < 0 ? '-' : '+'} ${Math.abs(factor)} ${name}`).join(' ');
}

/** LP text of an instance. */
export function toLp(instance: PlanInstance): string {
  const { slots, crews, tasks, mains = [], travel = {}, cost = {}, periodTarget = {} } = instance;
  const objective: Term[] = [];
  const rows: string[] = [];
  const binaries = new Set<string>();
  const bounds: string[] = [];
  const mainOf = new Map(mains.map((main) => [main.id, main]));
  const loads = new Map<string, Term[]>();
  const uses = new Map<string, Term[]>();
  const index = new Map(tasks.map((task, at) => [task.id, at]));
  const addTo = (map: Map<string, Term[]>, key: string, term: Term): void => {
    map.set(key, [...(map.get(key) ?? []), term]);
  };
  const once = (name: string, price: number): void => {
    if (binaries.has(name)) return;
    binaries.add(name);
    if (price !== 0) objective.push([price, name]);
  };
  const placesOf: { name: string; slot: number; crew: number }[][] = tasks.map(() => []);
  for (const [at, task] of tasks.entries()) {
    const all: Term[] = [[1, `u${at}`]];
    once(`u${at}`, task.unscheduled ?? 100_000);
    for (const [slot, { day, occupied, period }] of slots.entries())
      for (const [crew, person] of crews.entries()) {
        const capacity = person.regular[slot] + (person.overtime?.[slot] ?? 0);
        const skills = person.skills ?? ['*'];
        const skill = task.skill ?? '*';
        if (capacity <= 0 && !task.frozen) continue;
        if (task.earliest !== undefined && day < task.earliest) continue;
        if (task.latest !== undefined && day > task.latest) continue;
        if (task.open && !task.open.some(([from, to]) => slot >= from && slot <= to)) continue;
        if (skill !== '*' && !skills.includes('*') && !skills.includes(skill)) continue;
        if (task.frozen && (task.frozen[0] !== slot || task.frozen[1] !== crew)) continue;
        const main = task.main === undefined || task.state === undefined ? undefined : mainOf.get(task.main);
        const isForced = main !== undefined && (main.natural?.[slot] ?? 'L') !== task.state;
        if (main?.unsettled?.includes(slot)) continue;
        if (isForced && main.forcible && !main.forcible.includes(slot)) continue;
        const name = `x${at}_${crew}_${slot}`;
        const moved = task.published && task.published[0] !== slot ? (cost.move ?? 0) : 0;
        const isHandedOver = task.published?.[0] === slot && task.published[1] !== crew;
        const handedOver = isHandedOver ? (cost.handOver ?? 0) : 0;
        once(name, (task.weight ?? 1) * Math.max(0, day - task.due) + moved + handedOver);
        all.push([1, name]);
        placesOf[at].push({ name, slot, crew });
        const shift = `${crew}_${slot}`;
        addTo(loads, shift, [task.min, name]);
        if (period !== undefined) addTo(uses, `p${period}`, [task.min, name]);
        const link = (other: string, price: number, minutes: number): void => {
          if (!binaries.has(other) && minutes > 0) addTo(loads, shift, [minutes, other]);
          once(other, price);
          rows.push(
            `${sum([
              [1, name],
              [-1, other],
            ])} <= 0`,
          );
        };
        const walk = cost.walk ?? 0;
        if (task.building !== undefined)
          link(`v${shift}_${task.building}`, walk * (travel.building ?? 0), travel.building ?? 0);
        if (task.floor !== undefined)
          link(`g${shift}_${task.building}_${task.floor}`, walk * (travel.floor ?? 0), travel.floor ?? 0);
        if (!isForced) continue;
        link(`h${shift}_${main.id}`, 0, 2 * (main.switchMin ?? 0));
        const session = `y${slot}_${main.id}`;
        once(session, 2 * (cost.switchover ?? 0) + (occupied ? 2 * (cost.switchoverOccupied ?? 0) : 0));
        rows.push(
          `${sum([
            [1, name],
            [-1, session],
          ])} <= 0`,
        );
      }
    rows.push(`${sum(all)} = 1`);
  }
  for (const [at, task] of tasks.entries())
    for (const id of task.preds ?? []) {
      const before = placesOf[index.get(id) as number];
      for (const { name, slot, crew } of placesOf[at]) {
        const earlier = before.filter(
          (place) => place.slot < slot || (place.slot === slot && place.crew === crew),
        );
        rows.push(`${sum([[1, name], ...earlier.map((place): Term => [-1, place.name])])} <= 0`);
      }
    }
  for (const [shift, terms] of loads) {
    const [crew, slot] = shift.split('_').map(Number);
    const regular = crews[crew].regular[slot];
    const overtime = crews[crew].overtime?.[slot] ?? 0;
    rows.push(`${sum([...terms, [-1, `o${shift}`]])} <= ${regular}`);
    bounds.push(`0 <= o${shift} <= ${overtime}`);
    if ((cost.overtime ?? 0) > 0) objective.push([cost.overtime ?? 0, `o${shift}`]);
  }
  for (const [period, terms] of uses) {
    const target = periodTarget[period.slice(1)];
    if (target === undefined || (cost.uneven ?? 0) === 0) continue;
    rows.push(`${sum([...terms, [-1, `over_${period}`]])} <= ${target}`);
    objective.push([cost.uneven ?? 0, `over_${period}`]);
  }
  return [
    'Minimize',
    ` obj: ${sum(objective)}`,
    'Subject To',
    ...rows.map((row, at) => ` r${at}: ${row}`),
    'Bounds',
    ' zero = 0',
    ...bounds.map((line) => ` ${line}`),
    'Binary',
    ...[...binaries].map((name) => ` ${name}`),
    'End',
  ].join('\n');
}

/** The proved optimum of an instance, by HiGHS with no gap left. */
export async function provedOptimum(instance: PlanInstance): Promise<number> {
  const highs = await load();
  const solved = highs.solve(toLp(instance), {
    output_flag: false,
    mip_rel_gap: 0,
    random_seed: 1,
    // With presolve HiGHS 1.15.1 calls one of these programs infeasible that it solves without.
    presolve: 'off',
  });
  if (solved.Status !== 'Optimal') throw new Error(`the referee says ${solved.Status}`);
  return Math.round(solved.ObjectiveValue);
}
