/** Who the program works for at the moment, kept for this window; every change carries it. */
const KEY = 'almanac-person';
const listeners = new Set<() => void>();

/** Id of the chosen person; null when nobody is chosen. */
export function workingPersonId(): number | null {
  const id = Number(sessionStorage.getItem(KEY) ?? '');
  return Number.isInteger(id) && id > 0 ? id : null;
}

export function chooseWorkingPerson(id: number | null): void {
  if (id === null) sessionStorage.removeItem(KEY);
  else sessionStorage.setItem(KEY, String(id));
  for (const listener of listeners) listener();
}

export function onWorkingPersonChange(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}
