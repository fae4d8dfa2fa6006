/** The steps of one setpoint, in working order. What it should read stands before what is read. */
import type { BenchCard, BenchSetpoint } from '../../../shared/contract/bench.ts';
import { judgeCard, outcomesWithoutPressure, preconditions } from '../../../shared/trade/benchRules.ts';
import type { CardError } from '../../../shared/trade/benchRules.ts';
import { expectedReadings } from '../../../shared/trade/setpointCard.ts';
import { outcomes } from '../../../shared/trade/words.ts';
import type { Outcome } from '../../../shared/trade/words.ts';
import { fromMilli, toMilli, unitLabel } from '../../../shared/units/units.ts';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { CheckInput, SelectInput, TextInput } from '../../ui/fields.tsx';
import { differenceText, sentence, toleranceText, valueText } from '../../ui/format.ts';
import { typed, typingProblem } from '../../ui/typed.ts';
import { settingOf, toEntry } from './cardState.ts';
import type { EntryText } from './cardState.ts';

type Props = {
  card: BenchCard;
  setpoint: BenchSetpoint;
  text: EntryText;
  /** True when this one is done first and another follows on the same visit. */
  isFirstOfTwo: boolean;
  problems: Readonly<Record<string, string>>;
  onChange: (change: Partial<EntryText>) => void;
};

const outcomeWords: Record<string, string> = {
  held: 'held: found inside, not touched',
  adjusted: 'adjusted: left inside',
  'device failed': 'device failed: opens a follow-up',
  'supply not right': 'supply not right: opens a follow-up, says nothing of the device',
  'no access': 'no access',
  unsafe: 'unsafe: opens a follow-up',
  'not tested': 'not tested',
};

function Verdict({ error, unit }: { error: CardError | null; unit: 'degF' | 'degC' }) {
  if (!error) return null;
  return (
    <p className={`verdict verdict-${error.verdict}`} role="status">
      <b>{error.verdict}</b> error {differenceText(error.errorMilli, unit, error.relation)} by {error.method}
      {error.relation === '=' ? '' : ': the branch is clipped, so this is a bound'}
    </p>
  );
}

type OutcomeProps = Pick<Props, 'setpoint' | 'text' | 'problems' | 'onChange'> & {
  choices: readonly Outcome[];
};

function OutcomeStep({ setpoint, text, problems, onChange, choices }: OutcomeProps) {
  return (
    <li data-fields="outcome">
      <h3>Outcome</h3>
      <div className="controls">
        <SelectInput
          label="Outcome"
          name={`${setpoint.role}-outcome`}
          value={text.outcome}
          onChange={(value) => onChange({ outcome: choices.find((one) => one === value) ?? '' })}
          options={[
            { value: '', label: 'choose' },
            ...choices.map((one) => ({ value: one, label: sentence(outcomeWords[one]) })),
          ]}
          problem={problems.outcome ?? null}
        />
        <TextInput
          label="Remarks"
          value={text.note}
          onChange={(value) => onChange({ note: value })}
          className="wide"
        />
      </div>
    </li>
  );
}

export function SetpointCard({ card, setpoint, text, isFirstOfTwo, problems, onChange }: Props) {
  const setting = settingOf(card, setpoint);
  const { pressureUnit: p, temperatureUnit: t } = card;
  if (!setting)
    return (
      <>
        <p role="alert">
          The calibration pressure of this setpoint is not known: its basis is the spring midpoint, and no
          actuator is in the register. Add the actuator, or state the pressure. Until then only “no access”
          and “not tested” can be noted.
        </p>
        <ol className="steps">
          <OutcomeStep
            setpoint={setpoint}
            text={text}
            problems={problems}
            onChange={onChange}
            choices={outcomesWithoutPressure}
          />
        </ol>
      </>
    );
  const result = judgeCard(setting, toEntry(text));
  const expected = expectedReadings(setting.facts, {
    dial: typed(text.foundDial) === null ? null : fromMilli(typed(text.foundDial) as number),
    temperature: typed(text.foundRoom) === null ? null : fromMilli(typed(text.foundRoom) as number),
    mainPressure: typed(text.main) === null ? Infinity : fromMilli(typed(text.main) as number),
  });
  const isShut = result.live !== null && !result.stateIsRight;
  const pressure = (value: number): string => valueText(toMilli(value), p);
  const temperature = (value: number): string => valueText(toMilli(value), t);
  const figure = (key: keyof EntryText, label: string, unit: 'p' | 't', help?: string) => (
    <TextInput
      label={label}
      name={`${setpoint.role}-${key}`}
      value={text[key] as string}
      onChange={(value) => onChange({ [key]: value })}
      unit={unitLabel(unit === 'p' ? p : t)}
      numeric
      help={help}
      disabled={isShut && key !== 'main' && key !== 'dialBack'}
      problem={typingProblem(text[key] as string) ?? null}
    />
  );
  const stepProblem = (field: string) =>
    problems[field] ? <p className="field-problem">{problems[field]}</p> : null;
  const allTicked = preconditions.every(({ key }) => text.preconditions[key]);

  return (
    <ol className="steps">
      <li data-fields="mainPressure">
        <h3>Air state</h3>
        <div className="controls">
          {figure(
            'main',
            'Main pressure at the device',
            'p',
            setting.airState ? `this setpoint asks for ${setting.airState}` : 'any air state',
          )}
          {result.live !== null ? (
            <p className={`verdict ${isShut ? 'verdict-outside' : 'verdict-inside'}`} role="status">
              {result.live === 'not asked' ? (
                'this setpoint is alive in any state'
              ) : isShut ? (
                <>
                  <b>wrong state</b>{' '}
                  {setting.airState === 'unknown'
                    ? 'the main’s two pressures do not mean this role; mend the register first.'
                    : `the main is ${result.live === 'between' ? 'between its two states' : result.live}: this setpoint is not alive.`}{' '}
                  The card stays shut, and figures typed below are not asked for; the outcome can be “supply
                  not right”, “no access”, “unsafe” or “not tested”.
                </>
              ) : (
                <>
                  <b>alive</b> <AirState state={setpoint.airState} />
                </>
              )}
            </p>
          ) : null}
        </div>
        {stepProblem('mainPressure')}
      </li>
      <li data-fields="preconditionNote">
        <h3>Before you begin</h3>
        <div className="ticks">
          {preconditions.map(({ key, text: words }) => (
            <CheckInput
              key={key}
              name={`${setpoint.role}-${key}`}
              label={words}
              checked={text.preconditions[key] ?? false}
              onChange={(checked) => onChange({ preconditions: { ...text.preconditions, [key]: checked } })}
            />
          ))}
        </div>
        <div className="controls">
          <Button
            onPress={() =>
              onChange({ preconditions: Object.fromEntries(preconditions.map(({ key }) => [key, true])) })
            }
          >
            All of these are so
          </Button>
          {allTicked ? null : (
            <TextInput
              label="Not ticked because"
              value={text.preconditionNote}
              onChange={(value) => onChange({ preconditionNote: value })}
              problem={problems.preconditionNote ?? null}
            />
          )}
        </div>
      </li>
      <li>
        <h3>What it should read</h3>
        <dl className="values expected">
          <div>
            <dt>Calibration pressure</dt>
            <dd>{pressure(setting.facts.calibrationPressure)}</dd>
          </div>
          <div>
            <dt>Branch at this dial and room</dt>
            <dd>{expected.branch === null ? 'type dial and room below' : pressure(expected.branch)}</dd>
          </div>
          <div>
            <dt>Dial half a range up</dt>
            <dd>
              {expected.checkDialUp
                ? `${pressure(expected.checkDialUp.branch)} at ${temperature(expected.checkDialUp.dial)}`
                : 'after the room is typed'}
            </dd>
          </div>
          <div>
            <dt>Dial half a range down</dt>
            <dd>
              {expected.checkDialDown
                ? `${pressure(expected.checkDialDown.branch)} at ${temperature(expected.checkDialDown.dial)}`
                : 'after the room is typed'}
            </dd>
          </div>
          <div>
            <dt>Tolerance, found and left</dt>
            <dd>
              {toleranceText(setpoint.toleranceMilli, t)}, ±
              {differenceText(setpoint.toleranceLeftMilli, t).replace('+', '')}
            </dd>
          </div>
          <div>
            <dt>Last found</dt>
            <dd>
              {setpoint.last
                ? `${differenceText(setpoint.last.errorFoundMilli, t, setpoint.last.foundRelation)} on ${setpoint.last.doneOn}`
                : 'never'}
            </dd>
          </div>
        </dl>
      </li>
      <li data-fields="found">
        <h3>As found</h3>
        <div className="controls">
          {figure('foundDial', 'Dial', 't')}
          {figure('foundRoom', 'Room', 't')}
          {figure('foundBranch', 'Branch', 'p')}
          {figure('foundDialAtCalibration', 'Dial at calibration pressure', 't', 'only if sought: method M1')}
        </div>
        {result.dialMethodAdvised ? (
          <p className="notice">
            The branch is within {pressure(setting.facts.endClearance)} of an end: turn the dial until it
            reads {pressure(setting.facts.calibrationPressure)} and note the dial.
          </p>
        ) : null}
        <Verdict error={result.found} unit={t} />
        {stepProblem('found')}
      </li>
      <li data-fields="fullTravel">
        <h3>Full travel</h3>
        <div className="controls">
          {figure('swingOne', 'Branch, dial 5 degrees one way', 'p')}
          {figure('swingOther', 'Branch, 5 degrees the other way', 'p')}
          {result.travel ? (
            <p
              className={`verdict ${result.travel === 'fail' ? 'verdict-outside' : 'verdict-inside'}`}
              role="status"
            >
              {result.travel === 'no spring range' ? (
                'no actuator in the register to hold it against'
              ) : (
                <b>
                  {result.travel === 'pass'
                    ? 'passes both ends of the spring range'
                    : 'does not pass both ends of the spring range'}
                </b>
              )}
              {setpoint.spring
                ? ` ${setpoint.spring.tag}: ${valueText(setpoint.spring.startMilli, p)} to ${valueText(setpoint.spring.endMilli, p)}`
                : ''}
            </p>
          ) : null}
        </div>
        {stepProblem('fullTravel')}
      </li>
      <li data-fields="left throttling">
        <h3>Adjustment</h3>
        <CheckInput
          name={`${setpoint.role}-adjusted`}
          label="I adjusted it"
          checked={text.adjusted}
          disabled={isShut}
          onChange={(adjusted) =>
            onChange({
              adjusted,
              outcome: adjusted ? 'adjusted' : text.outcome === 'adjusted' ? '' : text.outcome,
            })
          }
        />
        {text.adjusted ||
        [text.leftDial, text.leftRoom, text.leftBranch, text.leftDialAtCalibration].some(
          (one) => one !== '',
        ) ? (
          <>
            <div className="controls">
              {figure('leftDial', 'Dial as left', 't')}
              {figure('leftRoom', 'Room as left', 't')}
              {figure('leftBranch', 'Branch as left', 'p')}
              {figure('leftDialAtCalibration', 'Dial at calibration pressure', 't', 'only if sought')}
            </div>
            <Verdict error={result.left} unit={t} />
            {stepProblem('left')}
            <h4>Throttling-range check</h4>
            <div className="controls">
              {figure('dialUp', 'Dial up', 't')}
              {figure('branchUp', 'Branch there', 'p')}
              {figure('dialDown', 'Dial down', 't')}
              {figure('branchDown', 'Branch there', 'p')}
            </div>
            {result.throttling ? (
              <p role="status">
                {pressure(result.throttling.gain)} per degree, throttling range{' '}
                {differenceText(toMilli(result.throttling.throttlingRange), t).replace('+', '')},{' '}
                {result.throttling.action} acting
                {Math.abs(result.throttling.throttlingRange - setting.facts.throttlingRange) >
                setting.facts.throttlingRange * 0.1
                  ? ': the registered range is ' +
                    differenceText(setpoint.throttlingRangeMilli, t).replace('+', '') +
                    '; if you changed it, take the as-found step again'
                  : ''}
              </p>
            ) : null}
            {stepProblem('throttling')}
          </>
        ) : (
          <p className="quiet">An adjustment of what is inside destroys drift information: prefer not to.</p>
        )}
      </li>
      {isFirstOfTwo ? (
        <li data-fields="readAgain">
          <h3>Read again after the other setpoint</h3>
          <div className="controls">
            {figure('againRoom', 'Room again', 't')}
            {figure('againDial', 'Dial again', 't')}
            {figure('againBranch', 'Branch again', 'p')}
          </div>
          <Verdict error={result.again} unit={t} />
          {stepProblem('readAgain')}
        </li>
      ) : null}
      <li data-fields="dialPutBack restored.main restored.override restored.valves">
        <h3>Put back</h3>
        <div className="controls">
          {figure('dialBack', 'Dial put back to', 't', `working value ${valueText(setpoint.dialMilli, t)}`)}
        </div>
        {stepProblem('dialPutBack')}
        <div className="ticks">
          <CheckInput
            name={`${setpoint.role}-restoredMain`}
            label="Main is back in its natural state"
            checked={text.restoredMain}
            onChange={(restoredMain) => onChange({ restoredMain })}
            problem={problems['restored.main'] ?? null}
          />
          <CheckInput
            name={`${setpoint.role}-restoredOverride`}
            label="Overrides are released"
            checked={text.restoredOverride}
            onChange={(restoredOverride) => onChange({ restoredOverride })}
            problem={problems['restored.override'] ?? null}
          />
          <CheckInput
            name={`${setpoint.role}-restoredValves`}
            label="Isolated valves are open"
            checked={text.restoredValves}
            onChange={(restoredValves) => onChange({ restoredValves })}
            problem={problems['restored.valves'] ?? null}
          />
        </div>
      </li>
      <OutcomeStep
        setpoint={setpoint}
        text={text}
        problems={problems}
        onChange={onChange}
        choices={outcomes}
      />
    </ol>
  );
}
