import { useState } from 'react';
import { Link, useParams } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { saveFile } from '../../platform/files.ts';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { Dialog } from '../../ui/Dialog.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { minutesText, valueText } from '../../ui/format.ts';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import type { DaySheet } from '../../../shared/contract/rounds.ts';
import { switchText } from '../../../shared/trade/switchText.ts';
import { unitLabel } from '../../../shared/units/units.ts';

type Visit = DaySheet['shifts'][number]['visits'][number];

function NoAccessDialog({ visit, onClose }: { visit: Visit; onClose: () => void }) {
  const [reason, setReason] = useState('');
  const save = useCommand('rounds.noAccess');
  return (
    <Dialog title={`No access to ${visit.room ?? 'this place'}`} isOpen onClose={onClose}>
      <TextInput
        label="Why"
        value={reason}
        onChange={setReason}
        help="kept with the visit; the next drawing takes it up"
      />
      {save.error ? <Failure error={save.error} /> : null}
      <div className="actions">
        <Button
          tone="main"
          isDisabled={reason.trim() === ''}
          onPress={() =>
            save.mutate({ visitId: visit.visitId, reason: reason.trim() }, { onSuccess: onClose })
          }
        >
          Note it
        </Button>
        <Button onPress={onClose}>Back</Button>
      </div>
    </Dialog>
  );
}

function VisitView({ visit }: { visit: Visit }) {
  const [asking, setAsking] = useState(false);
  const clear = useCommand('rounds.noAccess');
  const place =
    [visit.building, visit.level, visit.room].filter((word) => word).join(' / ') || 'no place noted';
  return (
    <li className="visit" aria-label={`Visit ${visit.order}: ${place}`}>
      <div className="title-line">
        <h3>
          {visit.order}. {place} {visit.roomName ? <span className="subtitle">{visit.roomName}</span> : null}
        </h3>
        <div className="actions screen-only">
          {visit.noAccess === null ? (
            <Button onPress={() => setAsking(true)}>No access</Button>
          ) : (
            <Button onPress={() => clear.mutate({ visitId: visit.visitId, reason: null })}>
              Access after all
            </Button>
          )}
        </div>
      </div>
      <p className="visit-line">
        {visit.main && visit.airState ? (
          <>
            {visit.main} <AirState state={visit.airState} />
          </>
        ) : (
          'no air state needed'
        )}
        {visit.access ? ` · access ${visit.access}` : ''}
        {visit.noAccess ? <strong className="late"> · no access: {visit.noAccess}</strong> : null}
      </p>
      {visit.tasks.map((task) => (
        <div key={task.id} className="task">
          <p>
            <b>{task.tag}</b> {task.role ? `${task.role} setpoint` : task.kind}, {task.minutes} min, due{' '}
            {task.dueOn}
            {task.byPortable ? ' · from the portable supply, the main is not touched' : ''}
            {task.done ? ' · done' : ''}{' '}
            {!task.done ? (
              <Link
                href={`/bench/${task.deviceId}${task.role ? `?role=${task.role}` : ''}`}
                className="screen-only"
              >
                Start card of {task.tag}
              </Link>
            ) : null}
          </p>
          <ul className="boxes">
            {task.boxes.map((box) => (
              <li key={box.label}>
                <span>
                  {box.label}
                  {unitLabel(box.unit) ? `, ${unitLabel(box.unit)}` : ''}
                </span>
                <i />
                <small>
                  {box.expectedMilli === null
                    ? box.choices.join(' / ') || '\u00a0'
                    : `should read ${valueText(box.expectedMilli, box.unit)}`}
                </small>
              </li>
            ))}
          </ul>
        </div>
      ))}
      {asking ? <NoAccessDialog visit={visit} onClose={() => setAsking(false)} /> : null}
    </li>
  );
}

/** One person's day, in working order: on screen, on paper, and as a PDF. */
export function DaySheetScreen() {
  const params = useParams<{ roundId: string; date: string; personId: string }>();
  const key = { roundId: Number(params.roundId), date: params.date, personId: Number(params.personId) };
  const sheet = useCall('rounds.daySheet', key);
  if (sheet.error) return <Failure error={sheet.error} />;
  if (!sheet.data) return <Waiting what="Reading the day sheet…" />;
  const { data } = sheet;
  return (
    <article className="day-sheet">
      <p className="crumb screen-only">
        <Link href={`/round/${data.roundId}?day=${data.date}`}>{data.roundName}</Link>
      </p>
      <div className="title-line">
        <h1>
          Day sheet{' '}
          <span className="subtitle">
            {data.person.name} ({data.person.initials}), {data.date}
          </span>
        </h1>
        <div className="actions screen-only">
          <Button tone="main" onPress={() => void saveFile('rounds.daySheetPdf', key)}>
            PDF with blank boxes
          </Button>
          <Link
            href={`/paper/day/${data.roundId}/${data.date}/${data.person.id}`}
            className="button button-plain"
          >
            Type in this sheet
          </Link>
          <Button onPress={() => window.print()}>Print</Button>
        </div>
      </div>
      <details className="cautions" open>
        <summary>Cautions</summary>
        <ul>
          {data.cautions.map((caution) => (
            <li key={caution}>{caution}</li>
          ))}
        </ul>
      </details>
      {data.shifts.length === 0 ? (
        <Empty title="No visits on this day">
          <p>
            <Link href={`/round/${data.roundId}`}>Back to the round</Link>
          </p>
        </Empty>
      ) : null}
      {data.shifts.map((shift) => (
        <section key={shift.shift} aria-label={`Shift ${shift.shift}`}>
          <h2>
            {shift.shift}{' '}
            <span className="subtitle">
              {shift.from} to {shift.to}, {minutesText(shift.loadMinutes)} of{' '}
              {minutesText(shift.capacityMinutes)}
            </span>
          </h2>
          {shift.overrunMinutes > 0 ? (
            <p className="late">
              Runs over by {minutesText(shift.overrunMinutes)}, with waiting for those who share a main.
            </p>
          ) : null}
          {shift.switching.length > 0 ? (
            <p>
              Air states:{' '}
              {shift.switching.map((one) => (
                <span key={`${one.main} ${one.airState} ${one.begin}`} className="switching">
                  {one.main} <AirState state={one.airState} />
                  {switchText(one)}
                </span>
              ))}
            </p>
          ) : null}
          <ol className="visits">
            {shift.visits.map((visit) => (
              <VisitView key={visit.visitId} visit={visit} />
            ))}
          </ol>
        </section>
      ))}
    </article>
  );
}
