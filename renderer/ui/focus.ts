import { useEffect, useRef } from 'react';
import type { RefObject } from 'react';

/** Puts the focus into the first field of a form when it is opened. */
export function useFocusAtOpening(): RefObject<HTMLFormElement | null> {
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => {
    form.current?.querySelector<HTMLElement>('input, select')?.focus();
  }, []);
  return form;
}
