/**
 * What a card comes to, and everything that stands in the way of closing it. The rules that all classes share are
 * here; what the figures of a class mean is in its description. The same judgement is made while typing, when the
 * card is closed, and when the record is recomputed from what it keeps.
 */
import { isPlainDate } from '../dates/plainDate.ts';
import { conformance } from '../stats/conformance.ts';
import { combined, guardBand, verdictInDoubt } from '../trade/doubt.ts';
import type { DecisionRule, ErrorLimits } from '../trade/doubt.ts';
import { completingOutcomes } from '../trade/words.ts';
import type { Outcome } from '../trade/words.ts';
import { fromMilli, toMilli } from '../units/units.ts';
import type { Unit } from '../units/units.ts';
import type {
  BaseFacts,
  CardDescription,
  CardEntry,
  CardField,
  CardJudgement,
  CardStep,
  CardValues,
  JudgedError,
  JudgedPoint,
  MeasuredError,
} from './card.ts';
import { fitnessOf, instrumentWords, shownRatio } from './instruments.ts';
import type { InstrumentKind, Instruments } from './instruments.ts';
import { figure, impossible, inUnit, unitOf } from './measures.ts';

export type JudgeSetting = {
  instruments: Instruments;
  rule: DecisionRule;
  doneOn: string;
  /** Of what no card noted at the time, a file of the past or a record that came from one, some may be missing. */
  mayMiss?: boolean;
};

type Fail = (field: string, reason: string, isMissing?: true) => void;

/** Outcomes under which nothing was read. */
export const untestedOutcomes: readonly Outcome[] = ['no access', 'not tested'];
/** Verdicts with which a point may be left as it is. */
export const acceptedVerdicts: readonly string[] = ['inside', 'inside, in doubt'];

/** Unit of an instrument's figures on a device. */
export function instrumentUnit(kind: InstrumentKind, facts: BaseFacts): Unit {
  if (kind === 'pressure') return facts.pressureUnit;
  return kind === 'humidity' ? 'percent' : facts.temperatureUnit;
}

/** Instruments that a card of these facts is read with. */
export function instrumentsOf<F extends BaseFacts>(
  description: CardDescription<F>,
  facts: F,
): InstrumentKind[] {
  return description.instruments.filter(
    (kind) =>
      (kind !== 'humidity' || facts.scaleUnit === 'percent') &&
      (kind !== 'temperature' || facts.scaleUnit !== 'percent'),
  );
}

function isAskedStep<F>(step: CardStep<F>, facts: F, adjusted: boolean): boolean {
  return (step.isOn?.(facts) ?? true) && (adjusted || !step.whenAdjusted);
}

/** Fields of a step that a device has. */
export function fieldsOf<F>(step: CardStep<F>, facts: F): CardField<F>[] {
  return step.fields.filter((field) => field.isOn?.(facts) ?? true);
}

function isNeeded<F>(field: CardField<F>, facts: F, entry: CardEntry): boolean {
  return typeof field.isNeeded === 'function'
    ? field.isNeeded(facts, entry.values, entry.adjusted)
    : field.isNeeded === true;
}

/** An error judged: rounded to thousandths first, so that the verdict follows from what the record keeps. */
function judged(measured: MeasuredError | null, limits: ErrorLimits, rule: DecisionRule): JudgedError | null {
  if (!measured) return null;
  const nothing = { errorMilli: null, relation: null, doubtMilli: null, conformancePpm: null, doubt: null };
  if (measured.kind === 'proof')
    return { ...nothing, method: measured.method, verdict: measured.passes ? 'inside' : 'outside' };
  const errorMilli = toMilli(measured.error);
  const error = fromMilli(errorMilli);
  const doubtMilli = measured.doubt === null ? null : toMilli(combined(measured.doubt).expanded);
  const expanded = doubtMilli === null ? 0 : fromMilli(doubtMilli);
  const isOneSided = limits.low === null || limits.high === null;
  const half = isOneSided ? Infinity : ((limits.high ?? 0) - (limits.low ?? 0)) / 2;
  // A ratio needs two limits: with one, the band by ratio is that of 0.83 U.
  const band =
    isOneSided && rule === 'guard band by ratio'
      ? guardBand('guard band 0.83 U', half, expanded)
      : guardBand(rule, half, expanded);
  const verdict = verdictInDoubt({ error, relation: measured.relation }, limits, band);
  // Under a rule with a guard band an error whose doubt is not known proves nothing for certain.
  const isUnproved =
    doubtMilli === null && rule !== 'simple acceptance' && (verdict === 'inside' || verdict === 'outside');
  const share =
    doubtMilli === null || measured.relation !== '='
      ? null
      : conformance(
          { value: error, u: expanded / 2 },
          { low: limits.low ?? -Infinity, high: limits.high ?? Infinity },
        );
  return {
    errorMilli,
    relation: measured.relation,
    method: measured.method,
    verdict: isUnproved ? `${verdict}, in doubt` : verdict,
    doubtMilli,
    conformancePpm: share === null ? null : Math.round(share * 1e6),
    doubt: measured.doubt,
  };
}

function possibleValues<F extends BaseFacts>(
  description: CardDescription<F>,
  facts: F,
  entry: CardEntry,
  fail: Fail,
): CardValues {
  const values: Record<string, number | string> = {};
  const known = new Set(description.steps.flatMap((step) => step.fields.map(({ key }) => key)));
  for (const key of Object.keys(entry.values))
    if (!known.has(key)) fail(key, 'this card asks for no such thing');
  for (const step of description.steps) {
    if (!isAskedStep(step, facts, entry.adjusted)) {
      if (step.whenAdjusted && step.fields.some(({ key }) => entry.values[key] !== undefined))
        fail(step.key, 'as-left figures stand here: tick “I adjusted it”, or clear them');
      continue;
    }
    for (const field of fieldsOf(step, facts)) {
      const value = entry.values[field.key];
      if (value === undefined) continue;
      if (field.kind === 'figure' && typeof value === 'number') {
        const reason = impossible(field.measure, value, facts);
        if (reason) fail(field.key, reason);
        else values[field.key] = value;
      } else if (field.kind === 'choice' && typeof value === 'string' && field.choices.includes(value))
        values[field.key] = value;
      else if (field.kind === 'date' && typeof value === 'string' && isPlainDate(value))
        values[field.key] = value;
      else fail(field.key, `“${value}” is no answer to this`);
    }
  }
  return values;
}

function neededProblems<F extends BaseFacts>(
  description: CardDescription<F>,
  facts: F,
  entry: CardEntry,
  fail: Fail,
): void {
  for (const step of description.steps) {
    if (!isAskedStep(step, facts, entry.adjusted)) continue;
    const fields = fieldsOf(step, facts);
    const missing = fields.filter(
      (field) => isNeeded(field, facts, entry) && entry.values[field.key] === undefined,
    );
    if (missing.length > 0)
      fail(
        missing.length === fields.length ? step.key : missing[0].key,
        `still to be noted: ${missing.map(({ label }) => label.toLowerCase()).join(', ')}`,
        true,
      );
  }
}

function wholeProblems<F extends BaseFacts>(
  description: CardDescription<F>,
  facts: F,
  entry: CardEntry,
  fail: Fail,
): void {
  for (const step of description.steps) {
    if (!step.isWhole || !isAskedStep(step, facts, entry.adjusted)) continue;
    const fields = fieldsOf(step, facts);
    const filled = fields.filter(({ key }) => entry.values[key] !== undefined).length;
    if (filled > 0 && filled < fields.length)
      fail(step.key, `${filled} of ${fields.length} figures: give all, or none`);
  }
}

function instrumentProblems<F extends BaseFacts>(
  description: CardDescription<F>,
  facts: F,
  { instruments, doneOn }: JudgeSetting,
  { isCompleting, adjusted }: { isCompleting: boolean; adjusted: boolean },
): Pick<CardJudgement, 'remarks' | 'problems'> {
  const result: Pick<CardJudgement, 'remarks' | 'problems'> = { remarks: [], problems: [] };
  const leftFacts = {
    ...facts,
    points: facts.points.map((point) => ({ ...point, toleranceMilli: point.toleranceLeftMilli })),
  };
  for (const kind of instrumentsOf(description, facts)) {
    const instrument = instruments[kind] ?? null;
    const words = instrumentWords[kind];
    if (!instrument) {
      if (isCompleting)
        result.problems.push({
          field: `instruments.${kind}`,
          reason: `say which ${words} the figures were read from`,
          isMissing: true,
        });
      continue;
    }
    const tolerance = description.toleranceFor(facts, kind);
    const fitness = fitnessOf(instrument, tolerance, instrumentUnit(kind, facts), doneOn);
    const ratio = fitness.ratio === null ? '' : `${shownRatio(fitness.ratio)} times`;
    if (fitness.adequacy === 'too coarse' && isCompleting)
      result.problems.push({
        field: `instruments.${kind}`,
        reason: `${instrument.tag} is only ${ratio} as good as the tolerance; twice is the least: take a better ${words}`,
      });
    if (fitness.adequacy !== 'good')
      result.remarks.push({
        step: 'instruments',
        tone: fitness.adequacy === 'too coarse' ? 'wrong' : 'look',
        text:
          fitness.adequacy === 'not known'
            ? `the accuracy of ${instrument.tag} is not noted: its doubt is not known`
            : `${instrument.tag} is ${ratio} as good as the tolerance; four times is customary, twice the least`,
      });
    const asLeft = description.toleranceFor(leftFacts, kind);
    const left = fitnessOf(instrument, asLeft, instrumentUnit(kind, facts), doneOn);
    if (
      adjusted &&
      fitness.adequacy !== 'too coarse' &&
      left.adequacy === 'too coarse' &&
      left.ratio !== null
    )
      result.remarks.push({
        step: 'instruments',
        tone: 'look',
        text: `${instrument.tag} is only ${shownRatio(left.ratio)} times as good as the as-left tolerance: what is left stays in doubt`,
      });
    if (fitness.isLapsed)
      result.remarks.push({
        step: 'instruments',
        tone: 'look',
        text:
          instrument.certificateDueOn === null
            ? `${instrument.tag} has no certificate; the record will say so`
            : `the certificate of ${instrument.tag} lapsed on ${instrument.certificateDueOn}; the record will say so`,
      });
  }
  return result;
}

/** A figure beyond the scale of its instrument was not read from it; supply pressures are read from the station’s own. */
function rangeProblems<F extends BaseFacts>(
  description: CardDescription<F>,
  facts: F,
  { values, instruments }: { values: CardValues; instruments: Instruments },
  fail: Fail,
): void {
  const room = facts.scaleUnit === 'percent' ? instruments.humidity : instruments.temperature;
  for (const field of description.steps.flatMap((step) => fieldsOf(step, facts))) {
    const value = values[field.key];
    if (field.kind !== 'figure' || typeof value !== 'number') continue;
    const instrument =
      field.measure === 'pressure' ? instruments.pressure : field.measure === 'scale' ? room : null;
    if (!instrument) continue;
    const unit = unitOf(field.measure, facts);
    const [least, most] = [instrument.rangeLowMilli, instrument.rangeHighMilli].map((end) =>
      inUnit(end, instrument.unit, unit),
    );
    if (value > most) fail(field.key, `${instrument.tag} reads to ${figure(most, unit)} only`);
    if (value < least) fail(field.key, `${instrument.tag} reads from ${figure(least, unit)} on`);
  }
}

function outcomeProblems(entry: CardEntry, points: readonly JudgedPoint[], fail: Fail): void {
  const isAccepted = (one: JudgedError | null): boolean =>
    one !== null && acceptedVerdicts.includes(one.verdict);
  const many = points.length > 1;
  const name = (point: string): string => (many ? `${point}: ` : '');
  if (entry.outcome === 'held') {
    if (entry.adjusted)
      fail('outcome', '“I adjusted it” is ticked; “held” means found inside and not touched');
    for (const { point, found } of points)
      if (found && !isAccepted(found))
        fail(
          'outcome',
          `${name(point)}as found is ${found.verdict}; “held” means found inside and not touched`,
        );
  }
  if (entry.outcome === 'adjusted') {
    if (!entry.adjusted) fail('outcome', 'tick “I adjusted it” and note what was left');
    for (const { point, found, left } of points) {
      if (left && !isAccepted(left))
        fail(
          'outcome',
          `${name(point)}as left is ${left.verdict} of the as-left tolerance; adjust again, or the device failed`,
        );
      if (!left && found && !isAccepted(found))
        fail('outcome', `${name(point)}as found is ${found.verdict}, and nothing is noted as left`);
    }
    if (entry.adjusted && points.every(({ left }) => left === null))
      fail('outcome', 'nothing is noted as left that can be judged');
  }
}

/** What the values come to, and what stands in the way of closing the card with its outcome. */
export function judgeCard<F extends BaseFacts>(
  description: CardDescription<F>,
  facts: F,
  entry: CardEntry,
  setting: JudgeSetting,
): CardJudgement {
  const problems: CardJudgement['problems'] = [];
  const fail: Fail = (field, reason, isMissing) => {
    problems.push(isMissing ? { field, reason, isMissing } : { field, reason });
  };
  const isCompleting = completingOutcomes.includes(entry.outcome);
  const isUntested = untestedOutcomes.includes(entry.outcome);
  const values = possibleValues(description, facts, entry, fail);
  const possible = { ...entry, values };
  const own = description.judge(facts, possible, setting);
  const points = own.points.map(({ point, limits, found, left }): JudgedPoint => ({
    point,
    found: judged(found, limits.found, setting.rule),
    left: judged(left, limits.left, setting.rule),
  }));
  const unticked = description.preconditions.filter(({ key }) => !entry.ticks[key]);
  if (unticked.length > 0 && entry.outcome !== 'no access' && entry.tickNote.trim() === '')
    fail(
      'tickNote',
      `say why these are not ticked: ${unticked.map(({ text }) => text.toLowerCase()).join('; ')}`,
      true,
    );
  rangeProblems(description, facts, { values, instruments: setting.instruments }, fail);
  const fit = instrumentProblems(description, facts, setting, {
    isCompleting,
    adjusted: entry.adjusted,
  });
  problems.push(...fit.problems);
  if (isUntested) {
    // The state of the air may be the very reason for which nothing was tested.
    const free = entry.outcome === 'not tested' ? description.steps.find(({ key }) => key === 'state') : null;
    const isFree = (key: string): boolean => free?.fields.some((field) => field.key === key) ?? false;
    if (Object.keys(entry.values).some((key) => !isFree(key)))
      fail(
        'outcome',
        `nothing is read where the outcome is “${entry.outcome}”: clear the figures, or choose another outcome`,
      );
  } else {
    // In the wrong air state the fields below are shut: what stands there is not asked for.
    if (!own.isShut) wholeProblems(description, facts, entry, fail);
    problems.push(...own.problems);
  }
  if (isCompleting && !own.isShut) {
    neededProblems(description, facts, entry, fail);
    outcomeProblems(entry, points, fail);
  }
  // What was forced for a test that was then not made is put back all the same.
  if (!isUntested || entry.ticks.forced)
    for (const { key, text } of description.restored)
      if (!entry.ticks[key]) fail(key, `tick when it is so: ${text.toLowerCase()}`, true);
  return {
    ...own,
    remarks: [...fit.remarks, ...own.remarks],
    problems: setting.mayMiss ? problems.filter(({ isMissing }) => !isMissing) : problems,
    points,
    rule: setting.rule,
    asked: description.steps
      .filter((step) => isAskedStep(step, facts, entry.adjusted))
      .map((step) => ({ step: step.key, fields: fieldsOf(step, facts).map(({ key }) => key) })),
  };
}
