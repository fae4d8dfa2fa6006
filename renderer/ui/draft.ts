/** What is typed into a form, kept on this machine until it is saved or thrown away: a closed window loses nothing. */
import { useState } from 'react';

const PREFIX = 'almanac-draft ';

function kept<T extends object>(key: string, blank: T): T {
  try {
    const held: unknown = JSON.parse(localStorage.getItem(PREFIX + key) ?? 'null');
    return typeof held === 'object' && held !== null ? { ...blank, ...held } : blank;
  } catch {
    return blank;
  }
}

/** The draft of a form by its key, a way to change it, and one to let it go. */
export function useDraft<T extends object>(
  key: string,
  blank: T,
): { draft: T; change: (part: Partial<T>) => void; forget: () => void } {
  const [draft, setDraft] = useState(() => kept(key, blank));
  return {
    draft,
    change: (part) => {
      const next = { ...draft, ...part };
      setDraft(next);
      localStorage.setItem(PREFIX + key, JSON.stringify(next));
    },
    forget: () => {
      localStorage.removeItem(PREFIX + key);
      setDraft(blank);
    },
  };
}
