/** `drift.group`: many histories together, by what they share; a distribution, a funnel, common shifts, the worst, two periods. */
import { AppError } from '../../shared/contract/errors.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { JULIAN_YEAR, julianYearsBetween } from '../../shared/dates/plainDate.ts';
import {
  biasOf,
  cellSums,
  commonShifts,
  compareShares,
  figuresOfGroup,
  funnelCurve,
  funnelOf,
} from '../../shared/stats/driftGroups.ts';
import type { GroupKey } from '../../shared/stats/groupKeys.ts';
import type { GroupReading, Moved } from '../../shared/stats/driftGroups.ts';
import { isFoundOutside } from '../../shared/stats/driftSeries.ts';
import { initialsOf } from '../../db/people.ts';
import { gaugeTags } from '../../db/gauges.ts';
import type { HistoryRow } from '../../db/drift.ts';
import type { DriftPointRow } from '../../db/driftPoints.ts';
import type { JobHandler } from '../context.ts';
import { walkHistories } from './walk.ts';
import type { Walked } from './walk.ts';

type Answer = OutputOf<'drift.group'>;

/** Ages at the reading, in years: up to five, ten, twenty, thirty, and older. */
const AGES = [5, 10, 20, 30] as const;
const WORST = 20;
const MOST_ROUNDS = 50_000;

function ageWords(inServiceOn: string | null, on: string): string {
  if (inServiceOn === null) return 'not known';
  const years = julianYearsBetween(inServiceOn, on);
  const at = AGES.findIndex((age) => years < age);
  if (at === 0) return `under ${AGES[0]} years`;
  return at < 0 ? `${AGES[AGES.length - 1]} years and over` : `${AGES[at - 1]} to ${AGES[at]} years`;
}

/** What a reading is counted under; the ids of people and gauges get their names at the end. */
function keyOf(by: GroupKey, row: DriftPointRow, record: HistoryRow): string {
  const none = 'not noted';
  switch (by) {
    case 'class':
      return row.class.replace('_', ' ');
    case 'kind':
      return row.kind === 'setpoint' ? `${row.role} setpoint` : row.kind;
    case 'main':
      return row.main ?? none;
    case 'level':
      return row.level === null ? none : `${row.building ?? ''} ${row.level}`.trim();
    case 'age':
      return ageWords(row.inServiceOn, record.done_on);
    case 'room use':
      return row.roomUse === null || row.roomUse === '' ? none : row.roomUse;
    case 'person':
      return String(record.person_id);
    case 'gauge':
      return record.pressure_gauge_id === null ? none : String(record.pressure_gauge_id);
  }
}

const rounds = new Map<string, string>();

/** The quarter of a date. A book has a few thousand dates, and each is asked for many times. */
function roundOf(date: string): string {
  const known = rounds.get(date);
  if (known !== undefined) return known;
  const round = `${date.slice(0, 4)} Q${Math.ceil(Number(date.slice(5, 7)) / 3)}`;
  if (rounds.size >= MOST_ROUNDS) rounds.clear();
  rounds.set(date, round);
  return round;
}

/** What a hand-over compares: who read, or with which gauge. */
function readerOf(by: GroupKey, record: HistoryRow): number | null {
  return by === 'gauge' ? record.pressure_gauge_id : record.person_id;
}

/** A drift between two visits, for what a reader or a gauge differs by. */
function movedOf(of: {
  by: GroupKey;
  row: DriftPointRow;
  before: HistoryRow | null;
  record: HistoryRow;
  drift: number;
  years: number;
}): Moved {
  const [then, now] = [of.before && readerOf(of.by, of.before), readerOf(of.by, of.record)];
  return {
    by: of.drift,
    years: of.years,
    cell: `${of.row.main ?? ''} ${roundOf(of.record.done_on)}`,
    isHandOver: then !== null && now !== null && then !== now,
  };
}

type Tally = { readings: GroupReading[]; points: Set<number>; before: GroupReading[] };
type Worst = Answer['worst'][number];

function tallyOf(tallies: Map<string, Tally>, key: string): Tally {
  const held = tallies.get(key) ?? { readings: [], points: new Set(), before: [] };
  tallies.set(key, held);
  return held;
}

/** The readings of one test point with what each is counted under. */
function* readingsOf(
  { row, toleranceMilli, side, records, points, visits }: Walked,
  by: GroupKey,
): Generator<{ key: string; reading: GroupReading; drift: number | null }> {
  const isReader = by === 'person' || by === 'gauge';
  let left: HistoryRow | null = null;
  for (const [index, point] of points.entries()) {
    const record = records[index];
    const { found } = visits[index];
    const before = left;
    if (point.leftMilli !== null) left = record;
    if (found === null || point.supplyFlagged || point.isBeforeService) continue;
    const isOutside = isFoundOutside(found, toleranceMilli, side);
    const drift = point.driftMilli === null || point.driftFlagged ? null : point.driftMilli / toleranceMilli;
    const years = (point.days ?? 0) / JULIAN_YEAR;
    yield {
      key: keyOf(by, row, record),
      drift,
      reading: {
        date: point.date,
        share: found.relation === '=' ? found.milli / toleranceMilli : null,
        isInside: isOutside === null ? null : !isOutside,
        rate: drift === null || years === 0 ? null : drift / years,
        moved: isReader && drift !== null ? movedOf({ by, row, before, record, drift, years }) : null,
      },
    };
  }
}

function worstOf({ row, toleranceMilli, side, records, points }: Walked): Worst | null {
  const at = points.findLastIndex(({ found, isBeforeService }) => found !== null && !isBeforeService);
  const found = points[at]?.found;
  if (!found || row.retiredOn !== null || row.active !== 1) return null;
  return {
    testPointId: row.id,
    deviceId: row.deviceId,
    tag: row.tag,
    kind: row.kind,
    role: row.role,
    unit: row.unit,
    date: points[at].date,
    calibrationId: records[at].id,
    foundMilli: found.milli,
    foundRelation: found.relation,
    toleranceMilli,
    times: (side === 'above' ? Math.max(0, found.milli) : Math.abs(found.milli)) / toleranceMilli,
  };
}

/** Worst first; of the same, by name: another book of the same records has the same list. */
function byWorst(a: Worst, b: Worst): number {
  const name = (one: Worst): string => `${one.tag} ${one.kind} ${one.role}`;
  return b.times - a.times || (name(a) < name(b) ? -1 : 1);
}

function keepWorst(worst: Worst[], one: Worst): void {
  if (worst.length === WORST && byWorst(worst[WORST - 1], one) < 0) return;
  const at = worst.findIndex((other) => byWorst(one, other) < 0);
  worst.splice(at < 0 ? worst.length : at, 0, one);
  if (worst.length > WORST) worst.pop();
}

export const groupDrift: JobHandler<'drift.group'> = async ({ book }, input, hooks) => {
  const { by, period, compare } = input;
  for (const span of [period, compare])
    if (span && span.from > span.to)
      throw new AppError('invalid_input', 'A period ends after it begins.', {
        problems: [{ column: 'to', value: span.to, reason: `before ${span.from}` }],
      });
  const db = book.reader;
  const isIn = (date: string, span: { from: string; to: string } | null): boolean =>
    span === null || (date >= span.from && date <= span.to);
  const tallies = new Map<string, Tally>();
  const shifts = new Map<string, Map<string, number[]>>();
  const worst: Worst[] = [];
  let [testPoints, records] = [0, 0];
  const scope = { mainId: input.mainId, levelId: input.levelId, kind: input.kind, class: input.class };
  await walkHistories(db, scope, hooks, (walked) => {
    testPoints += 1;
    records += walked.records.length;
    for (const { key, reading, drift } of readingsOf(walked, by)) {
      const tally = tallyOf(tallies, key);
      if (isIn(reading.date, period)) {
        tally.readings.push(reading);
        tally.points.add(walked.row.id);
      }
      if (compare && isIn(reading.date, compare)) tally.before.push(reading);
      const { main } = walked.row;
      if (drift === null || main === null || !isIn(reading.date, period)) continue;
      const round = roundOf(reading.date);
      const ofMain = shifts.get(main) ?? new Map<string, number[]>();
      const moved = ofMain.get(round) ?? [];
      moved.push(drift);
      ofMain.set(round, moved);
      shifts.set(main, ofMain);
    }
    const one = worstOf(walked);
    if (one) keepWorst(worst, one);
  });
  const all = [...tallies.values()].flatMap(({ readings }) => readings);
  const overall = figuresOfGroup(all);
  const share = overall.known === 0 ? 0 : overall.inside / overall.known;
  const cells = cellSums(all);
  const names =
    by === 'person'
      ? await initialsOf(db, [...tallies.keys()].map(Number))
      : by === 'gauge'
        ? await gaugeTags(db)
        : null;
  const counted = (readings: readonly GroupReading[]) => {
    const { known, inside } = figuresOfGroup(readings);
    return { known, inside };
  };
  const groups = [...tallies].flatMap(([key, tally]): Answer['groups'] => {
    if (tally.readings.length === 0) return [];
    const figures = figuresOfGroup(tally.readings);
    return [
      {
        key: names?.get(Number(key)) ?? key,
        testPoints: tally.points.size,
        ...figures,
        funnel: funnelOf(figures.inside, figures.known, share),
        bias: by === 'person' || by === 'gauge' ? biasOf(tally.readings, cells) : null,
        compared: compare ? compareShares(counted(tally.before), counted(tally.readings)) : null,
      },
    ];
  });
  return {
    by,
    testPoints,
    records,
    overall,
    funnel: funnelCurve(Math.max(10, ...groups.map(({ known }) => known)), share),
    groups: groups.toSorted((a, b) => a.key.localeCompare(b.key, 'en', { numeric: true })),
    common: commonShifts(shifts),
    worst,
    compared: compare
      ? compareShares(counted([...tallies.values()].flatMap(({ before }) => before)), counted(all))
      : null,
  };
};
