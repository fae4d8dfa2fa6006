import { Button as AriaButton } from 'react-aria-components';
import type { ButtonProps } from 'react-aria-components';

type Props = ButtonProps & { tone?: 'plain' | 'main' | 'quiet' };

/** The one button of the program. */
export function Button({ tone = 'plain', ...props }: Props) {
  return <AriaButton {...props} className={`button button-${tone}`} />;
}
