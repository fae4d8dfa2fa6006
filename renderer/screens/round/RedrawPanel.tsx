import { Button } from '../../ui/Button.tsx';
import { JobProgress, useJob } from '../../ui/JobPanel.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Failure } from '../../ui/states.tsx';
import { isHandedOver, shiftPlaceText } from '../../../shared/contract/shiftPlace.ts';
import type { MovedTask, RoundHead } from '../../../shared/contract/rounds.ts';

/** The rest of a round again, after something changed. */
export function RedrawPanel({ round, onRedrawn }: { round: RoundHead; onRedrawn: (id: number) => void }) {
  const job = useJob('rounds.redraw');
  async function start(): Promise<void> {
    const redrawn = await job.start({ id: round.id });
    if (redrawn) onRedrawn(redrawn.roundId);
  }
  return (
    <section aria-label="Draw again" className="panel">
      <h2>Draw again</h2>
      <p>
        After an absence, a closed room or a failed device: draws the rest of this round from today, as a new
        draft. What is done stays out, what is kept stays, and what was promised moves only where it must or
        where it pays.
      </p>
      <Button isPending={job.isRunning} onPress={() => void start()}>
        Draw the rest again
      </Button>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
    </section>
  );
}

const SHOWN = 200;

/** What a re-draw moved, each with its reason. */
export function MovedTasks({ moved }: { moved: readonly MovedTask[] }) {
  const handedOver = moved.filter((one) => isHandedOver(one)).length;
  return (
    <section aria-label="What moved" className="panel">
      <h2>What moved when drawn again ({moved.length})</h2>
      {handedOver > 0 ? <p>{handedOver} of these keep their shift and go to another person.</p> : null}
      {moved.length === 0 ? <p role="status">Nothing moved.</p> : null}
      {moved.length > SHOWN ? <p>The first {SHOWN}; `round redraw` lists them all.</p> : null}
      {moved.length > 0 ? (
        <PlainTable
          label="Moved tasks"
          titles={['Task', 'From', 'To', 'Why']}
          rows={moved.slice(0, SHOWN).map((one) => ({
            key: one.task,
            cells: [
              one.task,
              shiftPlaceText(one.from),
              one.to ? shiftPlaceText(one.to) : 'no place',
              one.reason,
            ],
          }))}
        />
      ) : null}
    </section>
  );
}
