import { useEffect, useState } from 'react';
import { Link, useSearchParams } from 'wouter';
import { useCall } from '../../api/client.ts';
import { ErrorBars } from '../../charts/errors/ErrorBars.tsx';
import { FunnelChart } from '../../charts/funnel/FunnelChart.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { JobProgress, useJob } from '../../ui/JobPanel.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { differenceText, signedText, toleranceText } from '../../ui/format.ts';
import { Empty, Failure } from '../../ui/states.tsx';
import type { DriftGroup } from '../../../shared/contract/drift.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';
import { groupKeys } from '../../../shared/stats/groupKeys.ts';
import { testPointKinds } from '../../../shared/trade/words.ts';
import { DriftTabs } from './DriftTabs.tsx';

type Answer = OutputOf<'drift.group'>;

const percent = (value: number): string => `${(100 * value).toFixed(1)} %`;

const placeWords: Record<DriftGroup['funnel']['place'], string> = {
  'too few': 'too few to compare',
  within: 'within chance',
  low: 'worse than chance',
  high: 'better than chance',
};

function GroupTable({ answer, compared }: { answer: Answer; compared: boolean }) {
  const isReader = answer.by === 'person' || answer.by === 'gauge';
  return (
    <PlainTable
      label={`Groups by ${answer.by}`}
      titles={[
        answer.by,
        '>Test points',
        '>Readings',
        '>In tolerance',
        '>Share',
        '95 % of the share',
        'Against all',
        '>Median error',
        '>Drift a year (middle half)',
        ...(isReader ? ['Differs at hand-overs'] : []),
        ...(compared ? ['Against the other period'] : []),
      ]}
      rows={answer.groups.map((group) => ({
        key: group.key,
        className: group.funnel.place === 'low' ? 'row-late' : undefined,
        cells: [
          group.key,
          group.testPoints,
          group.readings,
          `${group.inside} of ${group.known}`,
          group.known === 0 ? '–' : percent(group.inside / group.known),
          group.exact ? `${percent(group.exact.low)} to ${percent(group.exact.high)}` : '–',
          placeWords[group.funnel.place],
          group.medianShare === null ? '–' : signedText(group.medianShare, 2),
          group.rates
            ? `${signedText(group.rates.p50, 2)} (${signedText(group.rates.p25, 2)} to ${signedText(group.rates.p75, 2)})`
            : '–',
          ...(isReader
            ? [
                group.bias === null
                  ? 'too few hand-overs'
                  : `${signedText(group.bias.mean, 2)} (${signedText(group.bias.span.low, 2)} to ${signedText(group.bias.span.high, 2)}, ${group.bias.count})${group.bias.isClear ? ': more than chance' : ''}`,
              ]
            : []),
          ...(compared
            ? [
                group.compared === null
                  ? 'no readings in one of them'
                  : `${signedText(100 * group.compared.difference, 1)} (${signedText(100 * group.compared.span.low, 1)} to ${signedText(100 * group.compared.span.high, 1)}) of a hundred`,
              ]
            : []),
        ],
      }))}
    />
  );
}

function Answered({ answer, compared }: { answer: Answer; compared: boolean }) {
  const [chosen, setChosen] = useState('');
  const group = answer.groups.find(({ key }) => key === chosen);
  const { overall } = answer;
  if (answer.overall.readings === 0)
    return (
      <Empty title="No reading here">
        <p>Choose another kind, main or period, or load past readings.</p>
      </Empty>
    );
  return (
    <>
      <p className="lead">
        {overall.inside} of {overall.known} readings were found in tolerance
        {overall.exact
          ? `: ${percent(overall.inside / overall.known)} (95 %: ${percent(overall.exact.low)} to ${percent(overall.exact.high)})`
          : ''}
        , of {answer.testPoints} test {answer.testPoints === 1 ? 'point' : 'points'}.
        {answer.compared
          ? ` Against the other period ${signedText(100 * answer.compared.difference, 1)} of a hundred (95 %: ${signedText(100 * answer.compared.span.low, 1)} to ${signedText(100 * answer.compared.span.high, 1)}).`
          : ''}
      </p>
      <div className="chart-pair">
        <FunnelChart of={{ ...answer, overall: overall.known === 0 ? 0 : overall.inside / overall.known }} />
        <div>
          <SelectInput
            label="Distribution of"
            value={chosen}
            onChange={setChosen}
            options={[
              { value: '', label: 'all of them' },
              ...answer.groups.map(({ key }) => ({ value: key, label: key })),
            ]}
          />
          <ErrorBars bars={(group ?? overall).bars} label={group?.key ?? 'All'} />
        </div>
      </div>
      <GroupTable answer={answer} compared={compared} />
      <p className="quiet">
        Errors and drifts are told in tolerances, so that points of different units stand together. Readings
        with a wrong supply are left out; a bound counts where it decides. The limits of chance take readings
        to be independent; those of one point are not, so that a group beyond them is a reason to look.
        {answer.by === 'person' || answer.by === 'gauge'
          ? ' A difference at hand-overs compares what one read with what another had left, less what others read on that main in that quarter, each such quarter counted once. It may come from the places they work, the season, or the gauge they carry: it is a reason to look, not a verdict on anybody.'
          : ''}
      </p>
      <h2>What moved together</h2>
      {answer.common.length === 0 ? (
        <p className="quiet">No main has five known drifts in one quarter.</p>
      ) : (
        <>
          <p className="quiet">
            Median drift of the points of one main in one quarter, in tolerances. What many share is likely
            the supply, or a reference; only what is left is a device’s own.
          </p>
          <PlainTable
            label="Common shifts"
            titles={['Quarter', 'Main', '>Drifts', '>Median drift']}
            rows={answer.common
              .toSorted((a, b) => Math.abs(b.median) - Math.abs(a.median))
              .slice(0, 12)
              .map((one) => ({
                key: `${one.main} ${one.round}`,
                cells: [one.round, one.main, one.count, signedText(one.median, 2)],
              }))}
          />
        </>
      )}
      <h2>The twenty furthest out</h2>
      <PlainTable
        label="The twenty furthest out"
        titles={['Test point', 'Found on', '>As found', '>Tolerance', '>Times its tolerance']}
        rows={answer.worst.map((one) => ({
          key: one.testPointId,
          cells: [
            <Link key="tag" href={`/drift/${one.testPointId}`}>
              {one.tag} {one.role || one.kind}
            </Link>,
            one.date,
            differenceText(one.foundMilli, one.unit, one.foundRelation),
            toleranceText(one.toleranceMilli, one.unit),
            one.times.toFixed(1),
          ],
        }))}
      />
    </>
  );
}

function periodOf(from: string, to: string): { from: string; to: string } | null {
  return from !== '' && to !== '' ? { from, to } : null;
}

/** Many histories together, by what they share. The choice stands in the address. */
export function GroupsScreen() {
  const [search, setSearch] = useSearchParams();
  const job = useJob('drift.group');
  const mains = useCall('register.facets', {});
  const [answer, setAnswer] = useState<Answer | null>(null);
  const of = (name: string): string => search.get(name) ?? '';
  const by = groupKeys.find((key) => key === of('by')) ?? 'main';
  const compare = periodOf(of('compareFrom'), of('compareTo'));
  const asked = search.toString();
  const { start } = job;
  useEffect(() => {
    let isNewest = true;
    void start({
      by,
      mainId: of('main') === '' ? null : Number(of('main')),
      kind: of('kind') || null,
      period: periodOf(of('from'), of('to')),
      compare,
    }).then((result) => {
      if (isNewest && result) setAnswer(result);
    });
    return () => {
      isNewest = false;
    };
    // The address is the whole question.
    // oxlint-disable-next-line react-hooks/exhaustive-deps
  }, [asked]);
  const set = (name: string, value: string): void =>
    setSearch((current) => {
      const next = new URLSearchParams(current);
      if (value === '') next.delete(name);
      else next.set(name, value);
      return next;
    });
  return (
    <>
      <h1>Drift</h1>
      <DriftTabs here="/drift/groups" />
      <div className="controls">
        <SelectInput
          label="By"
          value={by}
          onChange={(value) => set('by', value)}
          options={groupKeys.map((key) => ({ value: key, label: key }))}
        />
        <SelectInput
          label="Kind"
          value={of('kind')}
          onChange={(value) => set('kind', value)}
          options={[
            { value: '', label: 'every kind' },
            ...testPointKinds.map((kind) => ({ value: kind, label: kind })),
          ]}
        />
        <SelectInput
          label="Main"
          value={of('main')}
          onChange={(value) => set('main', value)}
          options={[
            { value: '', label: 'every main' },
            ...(mains.data?.mains ?? []).map(({ id, tag }) => ({ value: String(id), label: tag })),
          ]}
        />
        {(
          [
            ['from', 'From'],
            ['to', 'To'],
            ['compareFrom', 'Compare from'],
            ['compareTo', 'Compare to'],
          ] as const
        ).map(([name, label]) => (
          <TextInput
            key={name}
            label={label}
            type="date"
            value={of(name)}
            onChange={(value) => set(name, value)}
          />
        ))}
        <Button onPress={() => setSearch(new URLSearchParams({ by }))}>Everything, ever</Button>
      </div>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
      {answer && !job.error ? <Answered answer={answer} compared={compare !== null} /> : null}
    </>
  );
}
