/** `intervals.recommend`: what the data of each test point, and of each class, say of its interval. */
import type { BookDb } from '../../db/book.ts';
import { everywhere } from '../../db/driftPoints.ts';
import type { DriftPointRow } from '../../db/driftPoints.ts';
import type { RecommendedClass, RecommendedPoint } from '../../shared/contract/intervals.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { groupEvidence } from '../../shared/stats/groupEvidence.ts';
import { isFoundOutside } from '../../shared/stats/driftSeries.ts';
import type { DriftVisit } from '../../shared/stats/driftSeries.ts';
import { addNoise, noiseTerms, pooledNoise } from '../../shared/stats/readingNoise.ts';
import type { NoiseTerms } from '../../shared/stats/readingNoise.ts';
import { classRule, recommendInterval, ruleTarget } from '../../shared/stats/recommend.ts';
import type { Evidence } from '../../shared/stats/recommend.ts';
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
  { row, toleranceMilli, side, points, visits }: Walked,
  { sureness, noise }: { sureness: number; noise: number },
): Kept {
  return {
    presentDays: intervalOf(row),
    toleranceMilli,
    statistics: driftStatistics(points, toleranceMilli, { sureness, noise, side }),
    results: sinceChange(visits).flatMap(({ found, supplyFlagged, isBeforeService }) =>
      found === null || supplyFlagged || isBeforeService
        ? []
        : [
            {
              errorMilli: side === 'above' ? Math.max(0, found.milli) : found.milli,
              isOutside: isFoundOutside(found, toleranceMilli, side),
            },
          ],
    ),
    lastDoneOn: row.lastDoneOn,
  };
}

/** Nothing is said of a new or a repaired device by what the old one read. */
function sinceChange(visits: readonly DriftVisit[]): readonly DriftVisit[] {
  const last = visits.findLastIndex(({ event, isLastOfDevice }) => event !== 'none' || isLastOfDevice);
  return visits.slice(last + 1);
}

export const recommendIntervals: JobHandler<'intervals.recommend'> = async ({ book }, scope, hooks) => {
  const db = book.reader;
  const { value: policy } = await intervalPolicyOf(db);
  const results = new Map<string, RenewalResult[]>();
  const noises = new Map<string, NoiseTerms>();
  // A class is judged by all of its members, whatever part of them is asked for.
  await walkHistories(db, everywhere, hooks, ({ row, points, toleranceMilli, side }) => {
    const key = classKey(row);
    const own = results.get(key) ?? [];
    own.push(...renewalResults(points, toleranceMilli, side));
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
  const answered = await answeredPoints(db);
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
          isAnswered: answered.has(row.id),
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
            ...classRule(group, row.interval_days, policy),
          },
        ];
  });
  return { policy, points, classes };
};

/** Test points whose interval was changed after their newest record entered the book: by the chain, which knows the order. */
async function answeredPoints(db: BookDb): Promise<Set<number>> {
  const changes = await db
    .selectFrom('setting_change as s')
    .innerJoin('ledger as l', (join) =>
      join.onRef('l.record_id', '=', 's.id').on('l.kind', '=', 'setting change'),
    )
    .select(['s.device_id', 's.what', (eb) => eb.fn.max('l.seq').as('seq')])
    .where('s.what', 'like', 'interval of %')
    .groupBy(['s.device_id', 's.what'])
    .execute();
  const answered = new Set<number>();
  for (const { device_id, what, seq } of changes) {
    if (device_id === null) continue;
    const name = what.replace('interval of ', '');
    const rows = await db
      .selectFrom('test_point as tp')
      .leftJoin('calibration as c', 'c.test_point_id', 'tp.id')
      .leftJoin('ledger as l', (join) =>
        join.onRef('l.record_id', '=', 'c.id').on('l.kind', '=', 'calibration'),
      )
      .select(['tp.id', (eb) => eb.fn.max('l.seq').as('seq')])
      .where('tp.device_id', '=', device_id)
      .where((eb) => eb.or([eb('tp.role', '=', name as 'only'), eb('tp.kind', '=', name as 'setpoint')]))
      .groupBy('tp.id')
      .execute();
    for (const row of rows) if ((row.seq ?? 0) < seq) answered.add(row.id);
  }
  return answered;
}
