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

/** Gives the focus back to the button from which something was opened, once it is closed again. */
export function useFocusBack(isOpen: boolean): RefObject<HTMLButtonElement | null> {
  const button = useRef<HTMLButtonElement>(null);
  const wasOpen = useRef(false);
  useEffect(() => {
    if (wasOpen.current && !isOpen) button.current?.focus();
    wasOpen.current = isOpen;
  }, [isOpen]);
  return button;
}

/** Where the focus was when something began; given back at its end, should what had it meanwhile be gone (a Cancel). */
export function useFocusKept(isRunning: boolean): void {
  const held = useRef<Element | null>(null);
  useEffect(() => {
    if (isRunning) held.current = document.activeElement;
    else if (held.current instanceof HTMLElement && document.activeElement === document.body)
      held.current.focus();
  }, [isRunning]);
}
