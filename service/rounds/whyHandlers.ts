/** Why a task stands where it stands, and what moving it would cost or break. */
import type { RoundMove, RoundWhy, ShiftPlace } from '../../shared/contract/rounds.ts';
import { explainTask, priceMove } from '../../shared/planning/explain.ts';
import type { Explanation } from '../../shared/planning/explain.ts';
import { PUT_OFF } from '../../shared/planning/instance.ts';
import { pinnedTasks } from '../../db/rounds.ts';
import { dateOfDayNumber } from '../../shared/dates/plainDate.ts';
import type { CallContext } from '../context.ts';
import { crewSlotOf, roundPlanOf, shiftOf, shiftPlaceOf, taskNamed, tasksNamed } from './roundPlan.ts';
import type { Reason, RoundPlan } from './roundPlan.ts';

function isSameReason(a: Reason | null, b: Reason | null): boolean {
  return a?.reason === b?.reason && a?.detail === b?.detail;
}

type Kept = { whenDrawn: Reason | null; pinned: boolean };

function toWhy(round: RoundPlan, one: Explanation, { whenDrawn, pinned }: Kept): RoundWhy['tasks'][number] {
  const { instance } = round;
  const task = round.c.taskList[round.c.indexOf.get(one.task) as number];
  const dateOf = (slot: number): string | null =>
    slot >= 0 && slot < round.c.slots ? shiftOf(instance, slot).date : null;
  const isPutOff = whenDrawn?.reason === PUT_OFF;
  return {
    id: one.task,
    tag: task.tag ?? one.task,
    role: task.role ?? null,
    kind: task.kind ?? '',
    dueOn: dateOfDayNumber(one.due),
    weight: task.weight ?? 1,
    outsideAtDue: task.outsideAtDue ?? null,
    place: shiftPlaceOf(instance, one.place),
    pinned,
    from: dateOf(one.from),
    to: dateOf(one.to),
    waitsFor: one.waitsFor,
    awaitedBy: one.awaitedBy,
    sharesSwitchingWith: one.sharesSwitchingWith,
    parts: one.parts,
    others: one.others.map((other) => ({
      ...shiftOf(instance, other.slot),
      person: other.crew,
      difference: other.difference,
      parts: other.parts,
    })),
    // What was put off stays so, whatever place is open.
    unplaced: isPutOff ? whenDrawn : one.unplaced,
    unplacedThen: isPutOff || isSameReason(one.unplaced, whenDrawn) ? null : whenDrawn,
  };
}

export async function whyOf(
  { db, book }: CallContext,
  { id, tag }: { id?: number; tag: string },
): Promise<RoundWhy> {
  const round = await roundPlanOf(book, db, id);
  const pinned = new Set(await pinnedTasks(db, round.head.id));
  return {
    roundId: round.head.id,
    shifts: [...new Set(round.instance.slots.map((slot) => slot.shift ?? ''))],
    people: round.instance.crews.map((crew) => crew.id),
    tasks: tasksNamed(round, tag).map((task) => {
      const one = explainTask(round.c, round.heads, round.plan, task);
      return toWhy(round, one, {
        whenDrawn: round.reasons.get(one.task) ?? null,
        pinned: pinned.has(one.task),
      });
    }),
  };
}

export async function priceOfMove(
  { db, book }: CallContext,
  { id, task: name, to }: { id?: number; task: string; to: ShiftPlace | null },
): Promise<RoundMove> {
  const round = await roundPlanOf(book, db, id);
  const task = taskNamed(round, name);
  const { breaches, difference, before, after } = priceMove(round.plan, task, crewSlotOf(round, to));
  return { roundId: round.head.id, task: round.c.taskList[task].id, breaches, difference, before, after };
}
