import type { AirState } from './switchover.ts';

/** What a day sheet says of the state of a main: whether it is changed by hand, when, and with whom. */
export function switchText(one: {
  forced: boolean;
  airState: AirState;
  held: { found: AirState; left: AirState; isBoth: boolean } | null;
  begin: string | null;
  back: string | null;
  sharedWith: readonly string[];
}): string {
  const others = one.sharedWith.join(', ');
  const agreed = others === '' ? '' : `, agreed with ${others}`;
  if (one.held) {
    const { found, left, isBoth } = one.held;
    const at = isBoth ? ` about ${one.begin ?? ''}${agreed}` : '';
    const isFound = found === one.airState;
    const change = isFound ? 'it should stand so' : `found ${found}: change it by hand${at}`;
    let after = left === one.airState ? 'leave it so' : `the last of the shift leaves it ${left}`;
    if (isBoth && isFound) after = `changed${at}`;
    return ` (held for days; ${change}; ${after})`;
  }
  const times = one.begin === null || one.back === null ? '' : ` about ${one.begin}, back about ${one.back}`;
  if (!one.forced)
    return others === ''
      ? ''
      : ` (switched the other way by ${others}${times}: read nothing on it in between)`;
  return ` (switch by hand${times}${agreed}; restore after)`;
}
