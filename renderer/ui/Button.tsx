import { Button as AriaButton } from 'react-aria-components';
import type { ButtonProps } from 'react-aria-components';
import type { Ref } from 'react';

type Props = ButtonProps & { tone?: 'plain' | 'main' | 'quiet'; ref?: Ref<HTMLButtonElement> };

/** The one button of the program. */
export function Button({ tone = 'plain', ...props }: Props) {
  return <AriaButton {...props} className={`button button-${tone}`} />;
}
