/** What a day sheet says of the state of a main: whether it is changed by hand, when, and with whom. */
export function switchText(one: {
  forced: boolean;
  begin: string | null;
  back: string | null;
  sharedWith: readonly string[];
}): string {
  if (!one.forced) return '';
  const times = one.begin === null || one.back === null ? '' : ` about ${one.begin}, back about ${one.back}`;
  const others = one.sharedWith.length === 0 ? '' : `, agreed with ${one.sharedWith.join(', ')}`;
  return ` (switch by hand${times}${others}; restore after)`;
}
