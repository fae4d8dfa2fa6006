/**
 * What the statistics of a series say in one plain sentence, and no more than its number of readings allows: last drift
 * with one or two, a slope as a number with three or four, a trend from five on. Units of the point, a year a Julian year.
 */
import type { PlainDate } from '../dates/plainDate.ts';
import type { DriftStatistics } from './driftStatistics.ts';
import { GIVEN_FROM } from './givenFrom.ts';

export type WordsOf = {
  /** Unit of a difference, as written. */
  unit: string;
  /** Words for up and down: warmer and colder, or up and down. */
  up: string;
  down: string;
  /** Dates before it are told as past; null: none is. */
  today?: PlainDate | null;
  /** What it shall stay within: its tolerance, where nothing else is said. */
  within?: 'tolerance' | 'its limit';
};

const SURE = 0.05;

function figure(value: number, digits: number = 2): string {
  return Math.abs(value).toFixed(digits);
}

function signed(value: number): string {
  return value < 0 ? `−${figure(value)}` : `+${figure(value)}`;
}

function leavingWords(
  { leaving }: DriftStatistics,
  { today = null, within = 'tolerance' }: Pick<WordsOf, 'today' | 'within'>,
): string {
  const [leaves, left, leave] =
    within === 'tolerance'
      ? ['leaves tolerance', 'left tolerance', 'leave it']
      : ['passes its limit', 'passed its limit', 'pass it'];
  if (leaving.kind === 'outside now')
    return ` It stands ${within === 'tolerance' ? 'outside its tolerance' : 'beyond its limit'} now.`;
  if (leaving.kind !== 'dated') return '';
  const how = leaving.by === 'line' ? 'by its line' : 'by its rate between adjustments';
  const { on, from, to, earliest, isBeyondSpan } = leaving;
  const isOver = (day: PlainDate): boolean => today !== null && day < today;
  const soonest =
    earliest === null
      ? ''
      : isOver(earliest)
        ? `; it should have been seen to by ${earliest}`
        : `; be there by ${earliest}`;
  if (on === null || from === null)
    return ` It stays ${within === 'tolerance' ? 'in tolerance' : 'within its limit'} for fifty years ${how}${from === null ? '' : `, but may ${leave} from ${from} on`}${soonest}.`;
  const beyond = isBeyondSpan ? ', further ahead than its readings reach back' : '';
  const end = to ?? 'more than fifty years ahead';
  return ` It ${isOver(on) ? `will have ${left}` : leaves} about ${on} ${how} (${from} to ${end}${beyond})${soonest}.`;
}

/** The sentence. */
export function whatMayBeSaid(statistics: DriftStatistics, { unit, up, down, ...where }: WordsOf): string {
  const { count, bounds, median, rate, isAdjusted } = statistics;
  const readings = `${count} ${count === 1 ? 'reading' : 'readings'}`;
  const word = statistics.trend;
  if (count === 0) {
    if (bounds === 0)
      return `No reading of this series yet: nothing can be said.${leavingWords(statistics, where)}`;
    const direction = word === 'rises' ? `; they go ${up}` : word === 'falls' ? `; they go ${down}` : '';
    return `Every reading is only a bound (${bounds}): how far it is off is not known${direction}.${leavingWords(statistics, where)}`;
  }
  if (count < GIVEN_FROM.lines) {
    const last = statistics.lastDriftMilli;
    return last === null
      ? `${readings}: too few for a trend.${leavingWords(statistics, where)}`
      : `Last drift ${signed(last / 1000)} ${unit}; ${readings} ${count === 1 ? 'is' : 'are'} too few for a trend.${leavingWords(statistics, where)}`;
  }
  const slope = isAdjusted && rate ? rate.rate : (median?.slope ?? 0);
  const by = isAdjusted && rate ? 'by what it moved between adjustments' : 'by the median of slopes';
  const moves =
    Math.abs(slope) < 0.005
      ? word === 'rises' || word === 'falls'
        ? `it would have moved by less than 0.01 ${unit} a year`
        : 'it would have stayed where it was'
      : `it would have moved ${figure(slope)} ${unit} a year ${slope > 0 ? up : down}, ${by}`;
  if (count < GIVEN_FROM.trend)
    return `Left alone, ${moves}, over ${readings}; with fewer than five this is a number, not a trend.${leavingWords(statistics, where)}`;
  const sure = word === 'none' ? 'no trend can be told from chance' : `the trend is more than chance`;
  const bent =
    statistics.bend !== null && statistics.bend < SURE
      ? ' It bends: a straight line forecasts it badly.'
      : '';
  const pulled = statistics.disagrees ? ' One reading pulls the line; the median is the better slope.' : '';
  return `Left alone, ${moves}, over ${readings}; ${sure}.${leavingWords(statistics, where)}${bent}${pulled}`;
}
