/**
 * When may a bench card of a setpoint be closed? The rules of the card in order, as problems for people. Used
 * by the screen while typing and by the service when the card is closed. Figures are integer thousandths of
 * the controller's units.
 */
import { fromMilli, toMilli } from '../units/units.ts';
import {
  asksForDialMethod,
  errorOf,
  foundVerdict,
  leftVerdict,
  throttlingCheck,
  travelTest,
} from './setpointCard.ts';
import type { SetpointFacts, ThrottlingCheck, TravelTest } from './setpointCard.ts';
import type { Relation, SetpointError, Verdict } from './setpointError.ts';
import { liveAirState } from './switchover.ts';
import type { AirState, LiveSetpoint } from './switchover.ts';
import { branchAboveMain, implausible } from './plausible.ts';
import type { ReadingQuantity, ReadingUnits } from './plausible.ts';
import { completingOutcomes } from './words.ts';
import type { Outcome } from './words.ts';

export const preconditions = [
  { key: 'supply', text: 'The supply station was checked this round and is right' },
  { key: 'settled', text: 'The air state has been steady for 15 minutes' },
  { key: 'weather', text: 'Outdoor temperature and season allow this air state' },
  { key: 'thermometer', text: 'Thermometer at the element for 5 minutes, out of draught, sun and breath' },
  { key: 'room', text: 'Room is between the ends of the dial and steady' },
  { key: 'gauges', text: 'Gauge and thermometer are in date and good enough' },
  { key: 'people', text: 'Occupants and control room told; permits held' },
] as const;

export type CardReadings = {
  dialMilli: number | null;
  temperatureMilli: number | null;
  branchMilli: number | null;
  dialAtCalibrationMilli: number | null;
};

export type CardEntry = {
  mainPressureMilli: number | null;
  preconditions: Readonly<Record<string, boolean>>;
  preconditionNote: string;
  found: CardReadings | null;
  fullTravel: { oneWayMilli: number; otherWayMilli: number } | null;
  left: CardReadings | null;
  throttling: {
    dialUpMilli: number;
    branchUpMilli: number;
    dialDownMilli: number;
    branchDownMilli: number;
  } | null;
  readAgain: { temperatureMilli: number; dialMilli: number; branchMilli: number } | null;
  dialPutBackMilli: number | null;
  restored: { main: boolean; override: boolean; valves: boolean };
  outcome: Outcome;
};

export type CardSetting = {
  facts: SetpointFacts;
  units: ReadingUnits;
  dialMilli: number;
  /** State that the setpoint asks for; null: none; `unknown`: the main's two pressures do not mean its role. */
  airState: AirState | null | 'unknown';
  rated: { low: number; high: number; allowance: number } | null;
  measured: { falling: number; rising: number } | null;
};

export type CardError = {
  errorMilli: number;
  relation: Relation;
  method: SetpointError['method'];
  verdict: Verdict;
};

export type CardResult = {
  live: LiveSetpoint | 'not asked' | null;
  stateIsRight: boolean;
  found: CardError | null;
  left: CardError | null;
  again: CardError | null;
  dialMethodAdvised: boolean;
  travel: TravelTest | null;
  throttling: ThrottlingCheck | null;
  problems: { field: string; reason: string }[];
};

/** How far from its working value the dial may be put back, in thousandths of a degree: half a scale mark. */
const DIAL_PUT_BACK_MILLI = 500;

function cardError(
  facts: SetpointFacts,
  readings: CardReadings | null,
  mainPressureMilli: number | null,
  left: boolean,
): CardError | null {
  if (!readings || readings.temperatureMilli === null) return null;
  const byDial = readings.dialAtCalibrationMilli !== null;
  if (!byDial && (readings.dialMilli === null || readings.branchMilli === null || mainPressureMilli === null))
    return null;
  const error = errorOf(facts, {
    mainPressure: fromMilli(mainPressureMilli ?? 0),
    temperature: fromMilli(readings.temperatureMilli),
    dial: fromMilli(readings.dialMilli ?? 0),
    branch: fromMilli(readings.branchMilli ?? 0),
    dialAtCalibrationPressure:
      readings.dialAtCalibrationMilli === null ? null : fromMilli(readings.dialAtCalibrationMilli),
  });
  // The verdict follows the rounded figure that the record keeps, so that it can be recomputed from it.
  const errorMilli = toMilli(error.error);
  const rounded = { ...error, error: fromMilli(errorMilli) };
  return {
    errorMilli,
    relation: error.relation,
    method: error.method,
    verdict: left ? leftVerdict(facts, rounded) : foundVerdict(facts, rounded),
  };
}

/** What the readings come to, and everything that stands in the way of closing the card with its outcome. */
export function judgeCard(setting: CardSetting, entry: CardEntry): CardResult {
  const { facts } = setting;
  const problems: CardResult['problems'] = [];
  const fail = (field: string, reason: string): void => {
    problems.push({ field, reason });
  };
  const main = entry.mainPressureMilli;
  const { live, stateIsRight } = liveSetpointOf(setting, main);
  readingProblems(setting, entry, fail);
  const impossible = new Set(problems.map(({ field }) => field));
  const isRead = (field: string): boolean => stateIsRight && !impossible.has(field);
  const found = isRead('found') ? cardError(facts, entry.found, main, false) : null;
  const left = isRead('left') ? cardError(facts, entry.left, main, true) : null;
  const again = cardError(
    facts,
    entry.readAgain ? { ...entry.readAgain, dialAtCalibrationMilli: null } : null,
    main,
    false,
  );
  const travel = entry.fullTravel
    ? travelTest(facts, fromMilli(entry.fullTravel.oneWayMilli), fromMilli(entry.fullTravel.otherWayMilli))
    : null;
  const throttling =
    entry.throttling && main !== null
      ? throttlingCheck(
          facts,
          {
            dial: fromMilli(entry.throttling.dialUpMilli),
            branch: fromMilli(entry.throttling.branchUpMilli),
          },
          {
            dial: fromMilli(entry.throttling.dialDownMilli),
            branch: fromMilli(entry.throttling.branchDownMilli),
          },
          fromMilli(main),
        )
      : null;
  const dialMethodAdvised =
    stateIsRight &&
    main !== null &&
    entry.found !== null &&
    entry.found.branchMilli !== null &&
    entry.found.temperatureMilli !== null &&
    entry.found.dialMilli !== null
      ? asksForDialMethod(facts, {
          mainPressure: fromMilli(main),
          temperature: fromMilli(entry.found.temperatureMilli),
          dial: fromMilli(entry.found.dialMilli),
          branch: fromMilli(entry.found.branchMilli),
          dialAtCalibrationPressure:
            entry.found.dialAtCalibrationMilli === null
              ? null
              : fromMilli(entry.found.dialAtCalibrationMilli),
        })
      : false;
  const result: CardResult = {
    live,
    stateIsRight,
    found,
    left,
    again,
    dialMethodAdvised,
    travel,
    throttling,
    problems,
  };
  const isCompleting = completingOutcomes.includes(entry.outcome);
  const unticked = preconditions.filter(({ key }) => !entry.preconditions[key]);
  if (unticked.length > 0 && entry.outcome !== 'no access' && entry.preconditionNote.trim() === '')
    fail(
      'preconditionNote',
      `say why these are not ticked: ${unticked.map(({ text }) => text.toLowerCase()).join('; ')}`,
    );
  if (
    main !== null &&
    !stateIsRight &&
    !['supply not right', 'no access', 'unsafe', 'not tested'].includes(entry.outcome)
  )
    fail(
      'outcome',
      setting.airState === 'unknown'
        ? 'the main’s two pressures do not mean this setpoint’s role: mend the register first; the outcome can only be “supply not right”'
        : `the main is ${live === 'between' ? 'between its two states' : `in its ${live} state`}, this setpoint asks for ${setting.airState}: the outcome can only be “supply not right”, “unsafe” or “not tested”`,
    );
  if (entry.outcome === 'no access' || entry.outcome === 'not tested') untestedProblems(entry, fail);
  if (isCompleting) completingProblems(setting, entry, result, fail);
  if (entry.outcome !== 'no access' && entry.outcome !== 'not tested')
    for (const [key, text] of [
      ['main', 'the main back in its natural state'],
      ['override', 'overrides released'],
      ['valves', 'isolated valves opened'],
    ] as const)
      if (!entry.restored[key]) fail(`restored.${key}`, `tick when restored: ${text}`);
  return result;
}

/** Which setpoint is alive at a main pressure in thousandths, and whether it is the one of the card. */
export function liveSetpointOf(
  { airState, rated, measured }: Pick<CardSetting, 'airState' | 'rated' | 'measured'>,
  mainMilli: number | null,
): Pick<CardResult, 'live' | 'stateIsRight'> {
  if (mainMilli === null) return { live: null, stateIsRight: false };
  if (airState === null) return { live: 'not asked', stateIsRight: true };
  if (airState === 'unknown' || !(rated || measured)) return { live: 'between', stateIsRight: false };
  const live = liveAirState(
    fromMilli(mainMilli),
    rated ?? { low: -Infinity, high: Infinity, allowance: 0 },
    measured,
  );
  return { live, stateIsRight: live === airState };
}

/** Readings that no gauge or thermometer can show, by the field of the card that they stand in. */
function readingProblems(
  { units }: CardSetting,
  entry: CardEntry,
  fail: (field: string, reason: string) => void,
): void {
  const check = (field: string, quantity: ReadingQuantity, milli: number | null | undefined): void => {
    const reason = milli === null || milli === undefined ? null : implausible(quantity, milli, units);
    if (reason) fail(field, reason);
  };
  const main = entry.mainPressureMilli;
  const branch = (field: string, milli: number | null | undefined): void => {
    check(field, 'gauge pressure', milli);
    if (milli === null || milli === undefined || main === null) return;
    const reason = branchAboveMain(milli, main, units.pressure);
    if (reason) fail(field, reason);
  };
  check('mainPressure', 'gauge pressure', main);
  for (const [field, set] of [
    ['found', entry.found],
    ['left', entry.left],
    ['readAgain', entry.readAgain ? { ...entry.readAgain, dialAtCalibrationMilli: null } : null],
  ] as const) {
    check(field, 'dial', set?.dialMilli);
    check(field, 'room temperature', set?.temperatureMilli);
    check(field, 'dial', set?.dialAtCalibrationMilli);
    branch(field, set?.branchMilli);
  }
  branch('fullTravel', entry.fullTravel?.oneWayMilli);
  branch('fullTravel', entry.fullTravel?.otherWayMilli);
  check('throttling', 'dial', entry.throttling?.dialUpMilli);
  check('throttling', 'dial', entry.throttling?.dialDownMilli);
  branch('throttling', entry.throttling?.branchUpMilli);
  branch('throttling', entry.throttling?.branchDownMilli);
  check('dialPutBack', 'dial', entry.dialPutBackMilli);
}

/** Outcomes that a setpoint can have whose calibration pressure is not known. */
export const outcomesWithoutPressure: readonly Outcome[] = ['no access', 'not tested'];

/** What is wrong with an entry for a setpoint whose calibration pressure is not known: nothing can be judged. */
export function problemsWithoutPressure(entry: CardEntry): CardResult['problems'] {
  const problems: CardResult['problems'] = [];
  const fail = (field: string, reason: string): void => {
    problems.push({ field, reason });
  };
  if (outcomesWithoutPressure.includes(entry.outcome)) untestedProblems(entry, fail);
  else
    fail(
      'outcome',
      'its calibration pressure is not known: the basis is the spring midpoint, and no actuator is in the register',
    );
  return problems;
}

/** Where nothing was tested nothing is read, but for the main pressure that may be the reason. */
function untestedProblems(entry: CardEntry, fail: (field: string, reason: string) => void): void {
  const reason = `nothing is read where the outcome is “${entry.outcome}”: clear this, or choose another outcome`;
  if (entry.outcome === 'no access' && entry.mainPressureMilli !== null) fail('mainPressure', reason);
  for (const field of ['found', 'fullTravel', 'left', 'throttling', 'readAgain'] as const)
    if (entry[field] !== null) fail(field, reason);
}

function completingProblems(
  setting: CardSetting,
  entry: CardEntry,
  result: CardResult,
  fail: (field: string, reason: string) => void,
): void {
  if (entry.mainPressureMilli === null) fail('mainPressure', 'read the main pressure at the device first');
  if (!result.stateIsRight) return;
  const { found, left } = result;
  const isNamed = (field: string): boolean => result.problems.some((problem) => problem.field === field);
  if (found === null && !isNamed('found'))
    fail(
      'found',
      'the as-found readings are not complete: room, and dial with branch, or the dial at the calibration pressure',
    );
  if (entry.outcome === 'held') {
    if (found !== null && found.verdict !== 'inside')
      fail('outcome', `as found is ${found.verdict}; “held” means found inside and not touched`);
    if (entry.left !== null) fail('outcome', 'as-left readings say that it was adjusted');
  }
  if (entry.outcome === 'adjusted') {
    if (left === null) {
      if (!isNamed('left')) fail('left', 'the as-left readings are not complete');
    } else if (left.verdict !== 'inside')
      fail(
        'outcome',
        `as left is ${left.verdict} of the as-left tolerance; adjust again, or the device failed`,
      );
    if (entry.throttling === null) fail('throttling', 'after an adjustment the throttling range is checked');
    else if (result.throttling === null)
      fail(
        'throttling',
        'these two readings give no throttling range: the branch did not move, or was clipped',
      );
    else if (result.throttling.action !== setting.facts.action)
      fail(
        'throttling',
        `the branch moves the wrong way for a ${setting.facts.action} acting controller: wrong unit or wrong state`,
      );
  }
  if (entry.fullTravel === null)
    fail('fullTravel', 'swing the dial 5 degrees either way and note the branch');
  else if (result.travel === 'fail')
    fail('fullTravel', 'the branch does not pass both ends of the spring range: the device failed');
  if (entry.readAgain !== null && (result.again === null || result.again.verdict !== 'inside'))
    fail('readAgain', 'read again after the other setpoint it is not inside: adjust it again');
  if (entry.dialPutBackMilli === null)
    fail('dialPutBack', 'put the dial back to its working value and note it');
  else if (Math.abs(entry.dialPutBackMilli - setting.dialMilli) > DIAL_PUT_BACK_MILLI)
    fail('dialPutBack', `the working value of the dial is ${fromMilli(setting.dialMilli)}`);
}
