/**
 * When a main is changed in a shift, and changed back, where several persons share it: nobody's work in the natural
 * state may still be going on, so the change begins when the last of them has come, and the way back when the last
 * has finished. Minutes of work and walking as the plan counts them; both changes are waited out by all.
 */
import { compareText } from '../engine/compile.ts';
import type { DrawnVisit, PlanInstance, PlanState } from '../instance.ts';

export type SwitchTime = {
  slot: number;
  main: string;
  state: PlanState;
  /** Minutes after the start of the shift at which the change, and the way back, begin; null where two persons each wait for the other. */
  begin: number | null;
  back: number | null;
  /** Who works there, in order of their ids, and how long each waits for the others beside the changes themselves. */
  crews: { crew: string; waits: number }[];
};

type Part = { key: string | null; main: string; state: PlanState; minutes: number };

/** The parts of one person's shift: natural work, and one for each time a main is away from its natural state. */
function partsOf(
  instance: PlanInstance,
  visits: readonly DrawnVisit[],
  minutesOf: ReadonlyMap<string, number>,
): Part[] {
  const seen = new Set<string>();
  const times = new Map<string, number>();
  const parts: Part[] = [];
  const once = (place: string, minutes: number): number => {
    if (seen.has(place)) return 0;
    seen.add(place);
    return minutes;
  };
  for (const visit of visits) {
    const main = instance.mains?.find((one) => one.id === visit.main);
    const isAway =
      main !== undefined &&
      visit.state !== null &&
      main.policy !== 'hold' &&
      visit.state !== (main.natural?.[visit.slot] ?? 'L');
    let minutes = visit.tasks.reduce((sum, id) => sum + (minutesOf.get(id) ?? 0), 0);
    if (visit.building !== null) minutes += once(`b ${visit.building}`, instance.travel?.building ?? 0);
    if (visit.floor !== null)
      minutes += once(`f ${visit.building}/${visit.floor}`, instance.travel?.floor ?? 0);
    const id = isAway ? main.id : '';
    const last = parts.at(-1);
    if (last && last.main === id) {
      last.minutes += minutes;
      continue;
    }
    if (isAway) times.set(id, (times.get(id) ?? 0) + 1);
    parts.push({
      key: isAway ? `${id} ${times.get(id)}` : null,
      main: id,
      state: visit.state ?? 'L',
      minutes,
    });
  }
  return parts;
}

/** Switch times of the visits of whole shifts: all persons of a slot must be among them. By slot, then by begin, then by main. */
export function switchTimes(instance: PlanInstance, visits: readonly DrawnVisit[]): SwitchTime[] {
  const minutesOf = new Map(instance.tasks.map((task) => [task.id, task.min]));
  const switchOf = (id: string): number => instance.mains?.find((main) => main.id === id)?.switchMin ?? 0;
  const found: SwitchTime[] = [];
  for (const [slot, own] of Map.groupBy(visits, (visit) => visit.slot)) {
    const people = [...Map.groupBy(own, (visit) => visit.crew)]
      .sort(([a], [b]) => compareText(a, b))
      .map(([crew, list]) => ({
        crew,
        parts: partsOf(
          instance,
          [...list].sort((a, b) => a.order - b.order),
          minutesOf,
        ),
      }));
    const sessions = new Map<string, SwitchTime & { begin: number; back: number }>();
    const most = 2 + people.reduce((sum, one) => sum + one.parts.length, 0);
    let isSettled = false;
    for (let look = 0; look < most && !isSettled; look += 1) {
      isSettled = true;
      for (const { crew, parts } of people) {
        let now = 0;
        for (const { key, main, state, minutes } of parts) {
          if (key === null) {
            now += minutes;
            continue;
          }
          const known = sessions.get(key) ?? { slot, main, state, begin: 0, back: 0, crews: [] };
          sessions.set(key, known);
          const begin = Math.max(known.begin, now);
          const ready = begin + switchOf(main) + minutes;
          const back = Math.max(known.back, ready);
          if (begin > known.begin || back > known.back) isSettled = false;
          known.crews = known.crews.filter((one) => one.crew !== crew);
          known.crews.push({ crew, waits: begin - now + (back - ready) });
          known.begin = begin;
          known.back = back;
          now = back + switchOf(main);
        }
      }
    }
    const times = [...sessions.values()].sort((a, b) => a.begin - b.begin || compareText(a.main, b.main));
    found.push(...times.map((one) => (isSettled ? one : { ...one, begin: null, back: null })));
  }
  return found.sort((a, b) => a.slot - b.slot);
}
