/**
 * Spring ranges and travel. 0 % travel is the normal position, the one the spring gives without air.
 * Source: ASHRAE Handbook - Fundamentals ch. 7 section 2.1 (normal position, spring return).
 */

export const normalPositions = ['open', 'closed'] as const;
export type NormalPosition = (typeof normalPositions)[number];
export type SpringRange = { start: number; end: number };

/** Travel in percent of stroke at a branch pressure, limited to 0 .. 100. Same unit for all pressures. */
export function travelPercent(pressure: number, spring: SpringRange): number {
  if (!(spring.end > spring.start)) throw new RangeError('a spring range must end above its start');
  const travel = (100 * (pressure - spring.start)) / (spring.end - spring.start);
  return Math.min(Math.max(travel, 0), 100);
}

/** How far open a device is, in percent: its travel when normally closed, the rest when normally open. */
export function openPercent(pressure: number, spring: SpringRange, normal: NormalPosition): number {
  const travel = travelPercent(pressure, spring);
  return normal === 'closed' ? travel : 100 - travel;
}

/** Main pressure less the end of the spring range: below zero the device cannot finish its stroke. */
export function strokeMargin(mainPressure: number, springEnd: number): number {
  return mainPressure - springEnd;
}

/** Spring ranges in general use, in psi, with the nominal metric range of hardware made in kPa. */
export const commonSpringRanges: ReadonlyArray<{
  psi: SpringRange;
  nominalKpa: SpringRange | null;
  use: string;
}> = [
  { psi: { start: 3, end: 13 }, nominalKpa: { start: 20, end: 90 }, use: 'full range' },
  { psi: { start: 3, end: 8 }, nominalKpa: { start: 20, end: 55 }, use: 'heating valve, first in sequence' },
  { psi: { start: 5, end: 10 }, nominalKpa: { start: 35, end: 70 }, use: 'middle of a sequence, dampers' },
  { psi: { start: 8, end: 13 }, nominalKpa: { start: 55, end: 90 }, use: 'cooling valve, mixed-air dampers' },
  { psi: { start: 4, end: 8 }, nominalKpa: { start: 28, end: 55 }, use: 'heating valve' },
  { psi: { start: 3, end: 15 }, nominalKpa: { start: 20, end: 100 }, use: 'positioner input' },
];
