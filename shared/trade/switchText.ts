/** What a day sheet says of the state of a main: whether it is changed by hand, when, and with whom. */
export function switchText(one: {
  forced: boolean;
  held: boolean;
  begin: string | null;
  back: string | null;
  sharedWith: readonly string[];
}): string {
  if (one.held) return ' (held for days: change it by hand if it stands otherwise; it stays so)';
  const others = one.sharedWith.join(', ');
  const times = one.begin === null || one.back === null ? '' : ` about ${one.begin}, back about ${one.back}`;
  if (!one.forced)
    return others === ''
      ? ''
      : ` (switched the other way by ${others}${times}: read nothing on it in between)`;
  const agreed = others === '' ? '' : `, agreed with ${others}`;
  return ` (switch by hand${times}${agreed}; restore after)`;
}
