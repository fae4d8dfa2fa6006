/** `intervals.recommend`: what the data of each test point, and of each class, say of its interval. */
import type { BookDb } from '../../db/book.ts';
import { everywhere } from '../../db/driftPoints.ts';
import type { DriftPointRow } from '../../db/driftPoints.ts';
import type { RecommendedClass, RecommendedPoint } from '../../shared/contract/intervals.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { groupEvidence } from '../../shared/stats/groupEvidence.ts';
import type { GroupEvidence } from '../../shared/stats/groupEvidence.ts';
import { isFoundOutside } from '../../shared/stats/driftSeries.ts';
import { addNoise, noiseTerms, pooledNoise } from '../../shared/stats/readingNoise.ts';
import type { NoiseTerms } from '../../shared/stats/readingNoise.ts';
import {
  GROUP_NEEDS,
  groupRule,
  onGrid,
  recommendInterval,
  ruleTarget,
} from '../../shared/stats/recommend.ts';
import type { Evidence, IntervalPolicy } from '../../shared/stats/recommend.ts';
import { renewalResults } from '../../shared/stats/renewals.ts';
import type { RenewalResult } from '../../shared/stats/renewals.ts';
import { intervalOf } from '../../shared/trade/due.ts';
import { unitLabel } from '../../shared/units/units.ts';
import type { Unit } from '../../shared/units/units.ts';
import type { JobHandler } from '../context.ts';
import { walkHistories } from '../drift/walk.ts';
import type { Walked } from '../drift/walk.ts';
import { intervalPolicyOf } from './policy.ts';

type Kept = Omit<Evidence, 'group' | 'isAnswered'>;

const noNoise: NoiseTerms = { neighbours: 0, outer: 0, count: 0 };

function classKey({ kind, unit }: Pick<DriftPointRow, 'kind' | 'unit'>): string {
  return `${kind} ${unit}`;
}

function evidenceOf(
  { row, toleranceMilli, points, visits }: Walked,
  { sureness, noise }: { sureness: number; noise: number },
): Kept {
  return {
    presentDays: intervalOf(row),
    toleranceMilli,
    statistics: driftStatistics(points, toleranceMilli, { sureness, noise }),
    results: visits.flatMap(({ found, supplyFlagged, isBeforeService }) =>
      found === null || supplyFlagged || isBeforeService
        ? []
        : [{ errorMilli: found.milli, isOutside: isFoundOutside(found, toleranceMilli) }],
    ),
    lastDoneOn: row.lastDoneOn,
  };
}

function classWords(
  group: GroupEvidence,
  policy: IntervalPolicy,
  presentDays: number,
): { days: number | null; words: string } {
  const { tested, inside, reliability } = group;
  const outside = tested - inside;
  const seen = `${inside} of ${tested} results in tolerance`;
  if (reliability.kind !== 'fitted' || tested < GROUP_NEEDS.tested || outside < GROUP_NEEDS.outside)
    return {
      days: null,
      words: `${seen}: a class is fitted from ${GROUP_NEEDS.tested} results and ${GROUP_NEEDS.outside} outside on`,
    };
  const answer = groupRule({ group, presentDays }, policy);
  const wanted = answer?.days ?? presentDays;
  const within = Math.min(policy.mostDays, Math.max(policy.leastDays, wanted));
  return { days: wanted === presentDays ? presentDays : onGrid(within), words: answer?.words ?? seen };
}

export const recommendIntervals: JobHandler<'intervals.recommend'> = async ({ book }, scope, hooks) => {
  const db = book.reader;
  const { value: policy } = await intervalPolicyOf(db);
  const results = new Map<string, RenewalResult[]>();
  const noises = new Map<string, NoiseTerms>();
  // A class is judged by all of its members, whatever part of them is asked for.
  await walkHistories(db, everywhere, hooks, ({ row, points, toleranceMilli }) => {
    const key = classKey(row);
    const own = results.get(key) ?? [];
    own.push(...renewalResults(points, toleranceMilli));
    results.set(key, own);
    const terms = noiseTerms(points);
    noises.set(key, addNoise(noises.get(key) ?? noNoise, terms));
  });
  const groups = new Map(
    [...results].map(([key, own]) => {
      const [kind, unit] = [key.slice(0, key.lastIndexOf(' ')), key.slice(key.lastIndexOf(' ') + 1) as Unit];
      return [
        key,
        groupEvidence(`all ${kind} points${unit === 'none' ? '' : ` in ${unitLabel(unit)}`}`, own),
      ];
    }),
  );
  const changed = await changedIntervals(db);
  const points: RecommendedPoint[] = [];
  await walkHistories(db, scope, hooks, (walked) => {
    const { row } = walked;
    if (row.active !== 1 || row.retiredOn !== null) return;
    const noise = pooledNoise(noises.get(classKey(row)) ?? noNoise);
    const group = groups.get(classKey(row)) ?? null;
    const evidence = evidenceOf(walked, { sureness: ruleTarget(policy.target, group?.recent), noise });
    points.push({
      testPointId: row.id,
      deviceId: row.deviceId,
      tag: row.tag,
      kind: row.kind,
      role: row.role,
      main: row.main,
      unit: row.unit,
      lastDoneOn: row.lastDoneOn,
      recommendation: recommendInterval(
        {
          ...evidence,
          isAnswered: (changed.get(`${row.deviceId} ${row.role || row.kind}`) ?? '') > (row.lastDoneOn ?? ''),
          group,
        },
        policy,
      ),
    });
  });
  const defaults = await db
    .selectFrom('class_default')
    .select(['id', 'kind', 'unit', 'interval_days'])
    .orderBy('kind')
    .orderBy('unit')
    .execute();
  const classes = defaults.flatMap((row): RecommendedClass[] => {
    const group = groups.get(classKey(row));
    return group === undefined || group.tested === 0
      ? []
      : [
          {
            id: row.id,
            kind: row.kind,
            unit: row.unit,
            tested: group.tested,
            inside: group.inside,
            presentDays: row.interval_days,
            ...classWords(group, policy, row.interval_days),
          },
        ];
  });
  return { policy, points, classes };
};

/** Days on which intervals of test points were changed last, by device and what of it. */
async function changedIntervals(db: BookDb): Promise<Map<string, string>> {
  const rows = await db
    .selectFrom('setting_change')
    .select(['device_id', 'what', (eb) => eb.fn.max('at').as('at')])
    .where('what', 'like', 'interval of %')
    .groupBy(['device_id', 'what'])
    .execute();
  return new Map(
    rows.map(({ device_id, what, at }) => [
      `${device_id} ${what.replace('interval of ', '')}`,
      at.slice(0, 10),
    ]),
  );
}
