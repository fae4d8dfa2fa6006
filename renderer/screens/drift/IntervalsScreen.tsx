import { useState } from 'react';
import { Link } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { DataTable } from '../../tables/DataTable.tsx';
import type { TableColumn } from '../../tables/DataTable.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { JobProgress, useJob } from '../../ui/JobPanel.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { problemOf } from '../../ui/FormActions.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import { typed, typingProblem } from '../../ui/typed.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';
import type { RecommendedClass, RecommendedPoint } from '../../../shared/contract/intervals.ts';
import { JULIAN_YEAR } from '../../../shared/dates/plainDate.ts';
import { unitLabel } from '../../../shared/units/units.ts';
import { DriftTabs } from './DriftTabs.tsx';

type Answer = OutputOf<'intervals.recommend'>;
type Show = 'changes' | 'shorter' | 'longer' | 'all';

const MONTH = JULIAN_YEAR / 12;
const months = (days: number): string => `${Math.round((10 * days) / MONTH) / 10} months`;

const percentText = (share: number): string => String(Math.round(share * 1000) / 10);

function isShown({ recommendation: { days, presentDays } }: RecommendedPoint, show: Show): boolean {
  if (show === 'all') return true;
  if (show === 'shorter') return days < presentDays;
  return show === 'longer' ? days > presentDays : days !== presentDays;
}

const fields = [
  ['target', 'In tolerance', '%'],
  ['leastDays', 'At least', 'days'],
  ['mostDays', 'At most', 'days'],
] as const;

/** What the policy asks for: the share in tolerance at the end of an interval, and its ends. */
function Policy() {
  const held = useCall('intervals.policy', {});
  const save = useCommand('intervals.savePolicy');
  const [changed, setText] = useState<Record<string, string>>({});
  if (!held.data) return <Waiting what="Reading the policy…" />;
  const { policy, version } = held.data;
  const text = {
    target: percentText(policy.target),
    leastDays: String(policy.leastDays),
    mostDays: String(policy.mostDays),
    why: '',
    ...changed,
  };
  const set = (name: string) => (value: string) => setText({ ...changed, [name]: value });
  const figures = fields.map(([name]) => typed(text[name]));
  const [target, leastDays, mostDays] = figures.map((milli) => (milli ?? 0) / 1000);
  return (
    <details className="panel">
      <summary>
        Policy: {percentText(policy.target)} % in tolerance at the end of an interval, {policy.leastDays} to{' '}
        {policy.mostDays} days
      </summary>
      <div className="controls">
        {fields.map(([name, label, unit]) => (
          <TextInput
            key={name}
            label={label}
            numeric
            unit={unit}
            value={text[name]}
            onChange={set(name)}
            problem={typingProblem(text[name]) ?? problemOf(save.error, `policy.${name}`)}
          />
        ))}
        <TextInput label="Why" value={text.why} onChange={set('why')} className="wide" />
        <Button
          isDisabled={figures.includes(null) || text.why.trim() === '' || workingPersonId() === null}
          isPending={save.isPending}
          onPress={() =>
            save.mutate(
              {
                policy: { target: target / 100, leastDays, mostDays },
                version,
                why: text.why,
              },
              { onSuccess: () => setText({}) },
            )
          }
        >
          Save the policy
        </Button>
      </div>
      {save.error ? <Failure error={save.error} /> : null}
    </details>
  );
}

/** Below the table and over its foot, so that the row stays where it is. */
function Reasons({ point, onClose }: { point: RecommendedPoint; onClose: () => void }) {
  return (
    <section aria-label={`Why, ${point.tag}`} className="panel panel-below">
      <div className="panel-head">
        <h2>
          <Link href={`/drift/${point.testPointId}`}>
            {point.tag} {point.role || point.kind}
          </Link>
        </h2>
        <Button onPress={onClose}>Close</Button>
      </div>
      <p className="lead">{point.recommendation.words}</p>
      <PlainTable
        label="Rules that ran"
        titles={['Rule', '>Says', 'Counts', 'By what']}
        rows={point.recommendation.rules.map((rule) => ({
          key: rule.rule,
          cells: [
            rule.rule,
            rule.days === null ? '–' : months(rule.days),
            rule.counts ? 'yes' : 'told only',
            rule.words,
          ],
        }))}
      />
    </section>
  );
}

function Classes({
  classes,
  chosen,
  onChoose,
}: {
  classes: readonly RecommendedClass[];
  chosen: ReadonlySet<number>;
  onChoose: (id: number) => void;
}) {
  return (
    <>
      <h2>By class</h2>
      <PlainTable
        label="Recommended intervals by class"
        titles={['Class', '>Now', '>Recommended', 'By what', 'Take it']}
        rows={classes.map((one) => ({
          key: one.id,
          cells: [
            `${one.kind} ${unitLabel(one.unit)}`,
            months(one.presentDays),
            one.days === null ? '–' : one.days === one.presentDays ? 'keep' : months(one.days),
            one.words,
            one.days === null || one.days === one.presentDays ? (
              ''
            ) : (
              <input
                key="take"
                type="checkbox"
                aria-label={`Take ${months(one.days)} for ${one.kind} ${unitLabel(one.unit)}`}
                checked={chosen.has(one.id)}
                onChange={() => onChoose(one.id)}
              />
            ),
          ],
        }))}
      />
    </>
  );
}

function toggled(set: ReadonlySet<number>, id: number): Set<number> {
  const next = new Set(set);
  if (!next.delete(id)) next.add(id);
  return next;
}

function columnsOf(
  points: ReadonlySet<number>,
  onTake: (testPointId: number) => void,
): TableColumn<RecommendedPoint>[] {
  return [
    { id: 'tag', title: 'Tag', value: ({ tag }) => tag },
    { id: 'of', title: 'Of', value: ({ role, kind }) => role || kind },
    {
      id: 'now',
      title: 'Now, days',
      value: ({ recommendation }) => recommendation.presentDays,
      align: 'end',
    },
    {
      id: 'days',
      title: 'Recommended, days',
      value: ({ recommendation }) => recommendation.days,
      align: 'end',
    },
    {
      id: 'take',
      title: 'Take it',
      value: ({ testPointId }) => (points.has(testPointId) ? 1 : 0),
      cell: (point) =>
        isShown(point, 'changes') ? (
          <input
            type="checkbox"
            aria-label={`Take ${point.recommendation.days} days for ${point.tag} ${point.role || point.kind}`}
            checked={points.has(point.testPointId)}
            onClick={(event) => event.stopPropagation()}
            onChange={() => onTake(point.testPointId)}
          />
        ) : null,
    },
    { id: 'by', title: 'By', value: ({ recommendation }) => recommendation.limitedBy },
    { id: 'main', title: 'Main', value: ({ main }) => main ?? '' },
    { id: 'done', title: 'Last done', value: ({ lastDoneOn }) => lastDoneOn ?? 'never' },
  ];
}

function Answered({ answer, onAccepted }: { answer: Answer; onAccepted: (changed: number) => void }) {
  const [show, setShow] = useState<Show>('changes');
  const [points, setPoints] = useState<ReadonlySet<number>>(new Set());
  const [classes, setClasses] = useState<ReadonlySet<number>>(new Set());
  const [open, setOpen] = useState<RecommendedPoint | null>(null);
  const [why, setWhy] = useState('');
  const accept = useCommand('intervals.accept');
  const rows = answer.points.filter((point) => isShown(point, show));
  const takeable = rows.filter((point) => isShown(point, 'changes'));
  const count = points.size + classes.size;
  const columns = columnsOf(points, (id) => setPoints(toggled(points, id)));
  return (
    <>
      <Classes
        classes={answer.classes}
        chosen={classes}
        onChoose={(id) => setClasses(toggled(classes, id))}
      />
      <h2>By test point</h2>
      <div className="controls">
        <SelectInput
          label="Show"
          value={show}
          onChange={(value) => {
            setShow(value as Show);
            setPoints(new Set());
          }}
          options={[
            { value: 'changes', label: 'those with another interval' },
            { value: 'shorter', label: 'those to be shortened' },
            { value: 'longer', label: 'those to be extended' },
            { value: 'all', label: 'all of them' },
          ]}
        />
        <Button onPress={() => setPoints(new Set(takeable.map(({ testPointId }) => testPointId)))}>
          Take all {takeable.length} shown
        </Button>
        <Button isDisabled={count === 0} onPress={() => (setPoints(new Set()), setClasses(new Set()))}>
          Take none
        </Button>
        <TextInput label="Why these are taken" value={why} onChange={setWhy} className="wide" />
        <Button
          tone="main"
          isDisabled={count === 0 || why.trim() === '' || workingPersonId() === null}
          isPending={accept.isPending}
          onPress={() =>
            accept.mutate(
              {
                why,
                points: answer.points
                  .filter(({ testPointId }) => points.has(testPointId))
                  .map(({ testPointId, recommendation: { presentDays, days } }) => ({
                    testPointId,
                    from: presentDays,
                    to: days,
                  })),
                classes: answer.classes.flatMap(({ id, presentDays, days }) =>
                  classes.has(id) && days !== null ? [{ id, from: presentDays, to: days }] : [],
                ),
              },
              { onSuccess: ({ changed }) => onAccepted(changed) },
            )
          }
        >
          Accept {count}
        </Button>
        {workingPersonId() === null ? <span className="quiet">Choose above who is working.</span> : null}
      </div>
      {accept.error ? <Failure error={accept.error} /> : null}
      <DataTable
        label="Recommended intervals"
        rows={rows}
        columns={columns}
        rowKey={({ testPointId }) => String(testPointId)}
        onOpen={setOpen}
        empty={
          <Empty title="Nothing to change">
            <p>Every interval is what its data recommend.</p>
          </Empty>
        }
      />
      <p className="quiet">Enter on a row, or a click, shows every rule that ran for it.</p>
      {open ? <Reasons point={open} onClose={() => setOpen(null)} /> : null}
    </>
  );
}

/** Recommended intervals with their reasons, accepted one by one or together. */
export function IntervalsScreen() {
  const job = useJob('intervals.recommend');
  const [answer, setAnswer] = useState<Answer | null>(null);
  const [changed, setChanged] = useState<number | null>(null);
  const run = (): void => {
    void job.start({}).then((result) => {
      if (result) setAnswer(result);
    });
  };
  return (
    <>
      <h1>Drift</h1>
      <DriftTabs here="/drift/intervals" />
      <Policy />
      <p className="quiet">
        A recommendation is made from the records as they are; nothing changes until somebody accepts it. The
        owner sets intervals: local codes and the maker’s instructions come first.
      </p>
      <div className="controls">
        <Button
          tone={answer === null ? 'main' : 'plain'}
          isPending={job.isRunning}
          onPress={() => {
            setChanged(null);
            run();
          }}
        >
          {answer === null ? 'Recommend intervals' : 'Recommend anew'}
        </Button>
        {changed === null ? null : (
          <p role="status">
            {changed} {changed === 1 ? 'interval' : 'intervals'} written; due dates moved with them. The next
            round goes by them.
          </p>
        )}
      </div>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
      {answer ? (
        <Answered
          key={changed ?? 'first'}
          answer={answer}
          onAccepted={(count) => {
            setChanged(count);
            run();
          }}
        />
      ) : null}
    </>
  );
}
