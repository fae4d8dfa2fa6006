/** Worked by hand: a main that is held for days is changed where that is cheapest, and the sheets say by whom. */
import { expect, it } from 'vitest';
import { evaluate } from '../../shared/planning/evaluate.ts';
import { heldStates } from '../../shared/planning/heldStates.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import { switchText } from '../../shared/trade/switchText.ts';

const instance: PlanInstance = {
  slots: [
    { day: 0, occupied: false },
    { day: 1, occupied: false },
    { day: 2, occupied: true },
  ],
  crews: [{ id: 'A', regular: [60, 60, 60] }],
  mains: [{ id: 'M', natural: ['L', 'L', 'L'], policy: 'hold' }],
  tasks: [
    { id: 'low', min: 10, due: 9, main: 'M', state: 'L' },
    { id: 'high', min: 10, due: 9, main: 'M', state: 'H' },
  ],
  cost: { switchover: 20, switchoverOccupied: 20 },
};
const assignment = { low: { slot: 0, crew: 'A' }, high: { slot: 2, crew: 'A' } };

it('the last of the quiet shift leaves it as the occupied one needs it; a shift without work changes nothing', () => {
  expect(evaluate(instance, assignment).parts).toMatchObject({ switchovers: 1, switchoversOccupied: 0 });
  expect(heldStates(instance, assignment)).toEqual([
    { main: 'M', slot: 2, found: 'H', left: 'H' },
    { main: 'M', slot: 0, found: 'L', left: 'H' },
  ]);
});

it('in words', () => {
  const row = { forced: false, begin: null, back: null, sharedWith: [] };
  expect(switchText({ ...row, airState: 'low', held: { found: 'low', left: 'high', isBoth: false } })).toBe(
    ' (held for days; it should stand so; the last of the shift leaves it high)',
  );
  expect(switchText({ ...row, airState: 'high', held: { found: 'low', left: 'high', isBoth: false } })).toBe(
    ' (held for days; found low: change it by hand; leave it so)',
  );
  const both = { found: 'low' as const, left: 'high' as const, isBoth: true };
  const shared = { ...row, begin: '08:30', sharedWith: ['B'], held: both };
  expect(switchText({ ...shared, airState: 'low' })).toBe(
    ' (held for days; it should stand so; changed about 08:30, agreed with B)',
  );
  expect(switchText({ ...shared, airState: 'high' })).toBe(
    ' (held for days; found low: change it by hand about 08:30, agreed with B; leave it so)',
  );
});
