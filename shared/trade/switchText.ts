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
  if (one.held) {
    const { found, left, isBoth } = one.held;
    const other = one.sharedWith.length > 0 ? `, agreed with ${one.sharedWith.join(', ')}` : '';
    const at = isBoth ? ` about ${one.begin ?? ''}${other}` : '';
    const isFound = found === one.airState;
    const change = isFound ? 'it should stand so' : `found ${found}: change it by hand${at}`;
    const after =
      left === one.airState && !(isBoth && isFound)
        ? 'leave it so'
        : isBoth && isFound
          ? `changed${at}`
          : `the last of the shift leaves it ${left}`;
    return ` (held for days; ${change}; ${after})`;
  }
  const others = one.sharedWith.join(', ');
  const times = one.begin === null || one.back === null ? '' : ` about ${one.begin}, back about ${one.back}`;
  if (!one.forced)
    return others === ''
      ? ''
      : ` (switched the other way by ${others}${times}: read nothing on it in between)`;
  const agreed = others === '' ? '' : `, agreed with ${others}`;
  return ` (switch by hand${times}${agreed}; restore after)`;
}
