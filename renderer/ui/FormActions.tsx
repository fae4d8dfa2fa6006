/** The end of a form: what went wrong, save, leave. */
import type { ApiError } from '../api/transport.ts';
import { Button } from './Button.tsx';
import { Failure } from './states.tsx';

type Props = {
  what: string;
  error: ApiError | null;
  isPending: boolean;
  onSave: () => void;
  onLeave: () => void;
};

export function FormActions({ what, error, isPending, onSave, onLeave }: Props) {
  return (
    <>
      {error ? <Failure error={error} /> : null}
      <div className="actions">
        <Button tone="main" isPending={isPending} onPress={onSave}>
          {isPending ? 'Saving…' : `Save the ${what}`}
        </Button>
        <Button onPress={onLeave}>Leave unchanged</Button>
      </div>
    </>
  );
}

/** The problem of one field among those that the service named. */
export function problemOf(error: ApiError | null, column: string): string | null {
  return error?.details.problems?.find((problem) => problem.column === column)?.reason ?? null;
}
