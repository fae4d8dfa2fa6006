import { Button as AriaButton } from 'react-aria-components';
import type { ButtonProps } from 'react-aria-components';
import type { Ref } from 'react';

type Props = ButtonProps & { tone?: 'plain' | 'main' | 'quiet'; ref?: Ref<HTMLButtonElement> };

/**
 * The one button of the program. `isDisabled` is for what cannot be done as the form stands; while what it does is under
 * way it is `isPending`: it cannot be pressed, and keeps the focus. The library's own form of that reads the button out once
 * more, beside the progress and the answer that are read out here already.
 */
export function Button({ tone = 'plain', isPending = false, onPress, type, ...props }: Props) {
  return (
    <AriaButton
      {...props}
      {...(isPending ? { 'aria-disabled': true } : { onPress, type })}
      className={`button button-${tone}`}
    />
  );
}
