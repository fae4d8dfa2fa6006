/** The steps of one card, in working order, as its description says. What it should read stands before what is read. */
import type { BenchEntry } from '../../../shared/contract/bench.ts';
import { REPAIRED } from '../../../shared/cards/common.ts';
import { descriptionOf } from '../../../shared/cards/index.ts';
import type { CardFacts } from '../../../shared/cards/index.ts';
import type { CardField, CardJudgement, CardStep, Tick } from '../../../shared/cards/card.ts';
import { fieldsOf } from '../../../shared/cards/judge.ts';
import { unitOf } from '../../../shared/cards/measures.ts';
import { outcomes } from '../../../shared/trade/words.ts';
import { unitLabel } from '../../../shared/units/units.ts';
import { Button } from '../../ui/Button.tsx';
import { CheckInput, SelectInput, TextInput } from '../../ui/fields.tsx';
import { differenceText, sentence, toleranceText } from '../../ui/format.ts';
import { typingProblem } from '../../ui/typed.ts';
import { Remarks, VerdictLine } from '../../cards/CardVerdict.tsx';
import type { EntryText } from '../../cards/cardState.ts';

type Props = {
  entry: BenchEntry;
  /** Facts on this visit. */
  facts: CardFacts;
  judgement: CardJudgement;
  text: EntryText;
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

/** Steps whose fields stay open in the wrong air state. */
const openSteps: readonly string[] = ['state', 'putBack'];

type FieldProps = Props & { field: CardField<CardFacts>; isShut: boolean };

function FieldInput({ entry, facts, text, problems, onChange, field, isShut }: FieldProps) {
  const value = text.values[field.key] ?? '';
  const set = (next: string): void => onChange({ values: { ...text.values, [field.key]: next } });
  const help = typeof field.help === 'function' ? field.help(facts) : field.help;
  const name = `${entry.key || 'device'}-${field.key}`;
  return (
    <div data-field={field.key} className="field-slot">
      {field.kind === 'choice' ? (
        <SelectInput
          label={field.label}
          name={name}
          value={value}
          disabled={isShut}
          help={help}
          problem={problems[field.key] ?? null}
          onChange={set}
          options={[
            { value: '', label: 'choose' },
            ...field.choices.map((one) => ({ value: one, label: sentence(one) })),
          ]}
        />
      ) : (
        <TextInput
          label={field.label}
          name={name}
          type={field.kind === 'date' ? 'date' : 'text'}
          value={value}
          onChange={set}
          unit={field.kind === 'figure' ? unitLabel(unitOf(field.measure, facts)) : undefined}
          numeric={field.kind === 'figure'}
          help={help}
          disabled={isShut}
          problem={problems[field.key] ?? (field.kind === 'figure' ? typingProblem(value) : null)}
        />
      )}
    </div>
  );
}

function TickBoxes({
  prefix,
  ticks,
  text,
  problems,
  onChange,
}: Pick<Props, 'text' | 'problems' | 'onChange'> & { prefix: string; ticks: readonly Tick[] }) {
  return (
    <div className="ticks">
      {ticks.map(({ key, text: words }) => (
        <CheckInput
          key={key}
          name={`${prefix}-${key}`}
          label={words}
          checked={text.ticks[key] ?? false}
          onChange={(checked) => onChange({ ticks: { ...text.ticks, [key]: checked } })}
          problem={problems[key] ?? null}
        />
      ))}
    </div>
  );
}

function Expected({ entry, judgement }: Pick<Props, 'entry' | 'judgement'>) {
  const { points } = entry.facts;
  const many = points.length > 1;
  return (
    <li>
      <h3>What it should read</h3>
      <dl className="values expected">
        {judgement.expected.map(({ label, text }) => (
          <div key={label}>
            <dt>{label}</dt>
            <dd>{text}</dd>
          </div>
        ))}
        {points.flatMap((point) => {
          const last = entry.points.find(({ key }) => key === point.key)?.last;
          const name = many ? `, ${point.kind}` : '';
          const before = last
            ? `${differenceText(last.errorFoundMilli, point.unit, last.foundRelation)} on ${last.doneOn}`
            : 'never taken';
          return [
            // A point without a nominal value has a limit, and no tolerance about it.
            ...(point.nominalMilli === null
              ? []
              : [
                  <div key={point.key}>
                    <dt>Tolerance, found and left{name}</dt>
                    <dd>
                      {toleranceText(point.toleranceMilli, point.unit)},{' '}
                      {toleranceText(point.toleranceLeftMilli, point.unit)}
                    </dd>
                  </div>,
                ]),
            <div key={`${point.key} last`}>
              <dt>Last found{name}</dt>
              <dd>{last && point.unit === 'none' ? `${last.outcome} on ${last.doneOn}` : before}</dd>
            </div>,
          ];
        })}
      </dl>
    </li>
  );
}

function Preconditions({ entry, facts, text, problems, onChange }: Props) {
  const { preconditions, cautions } = descriptionOf(facts);
  const allTicked = preconditions.every(({ key }) => text.ticks[key]);
  const own = { prefix: entry.key || 'device', text, problems, onChange };
  return (
    <li data-fields="tickNote">
      <h3>Before you begin</h3>
      <ul className="cautions" aria-label="Cautions">
        {cautions(facts).map((words) => (
          <li key={words}>{words}</li>
        ))}
      </ul>
      <TickBoxes {...own} ticks={preconditions} />
      <div className="controls">
        <Button
          onPress={() =>
            onChange({
              ticks: { ...text.ticks, ...Object.fromEntries(preconditions.map(({ key }) => [key, true])) },
            })
          }
        >
          All of these are so
        </Button>
        {allTicked ? null : (
          <TextInput
            label="Not ticked because"
            value={text.tickNote}
            onChange={(tickNote) => onChange({ tickNote })}
            problem={problems.tickNote ?? null}
          />
        )}
      </div>
    </li>
  );
}

function StepFields({ step, ...props }: Props & { step: CardStep<CardFacts> }) {
  const { facts, judgement, problems } = props;
  const isShut = judgement.isShut && !openSteps.includes(step.key);
  const lead = step.lead?.(facts) ?? '';
  return (
    <>
      {lead === '' ? null : <p className="quiet">{lead}</p>}
      <div className="controls">
        {fieldsOf(step, facts).map((field) => (
          <FieldInput key={field.key} {...props} field={field} isShut={isShut} />
        ))}
      </div>
      <Remarks remarks={judgement.remarks.filter((remark) => remark.step === step.key)} />
      {step.key === 'state' ? (
        <TickBoxes
          {...props}
          prefix={props.entry.key || 'device'}
          ticks={descriptionOf(facts)
            .circumstances(facts)
            .filter(({ key }) => key !== REPAIRED)}
        />
      ) : null}
      {problems[step.key] ? <p className="field-problem">{problems[step.key]}</p> : null}
    </>
  );
}

function fieldNames(step: CardStep<CardFacts>, facts: CardFacts): string {
  return [step.key, ...fieldsOf(step, facts).map(({ key }) => key)].join(' ');
}

function Verdicts({
  entry,
  judgement,
  side,
}: Pick<Props, 'entry' | 'judgement'> & { side: 'found' | 'left' }) {
  return (
    <>
      {judgement.points.map((point) => (
        <VerdictLine
          key={point.point}
          judged={point[side]}
          unit={entry.facts.points.find(({ key }) => key === point.point)?.unit ?? 'none'}
          name={judgement.points.length > 1 ? point.point : null}
        />
      ))}
    </>
  );
}

export function CardSteps(props: Props) {
  const { entry, facts, judgement, text, problems, onChange } = props;
  const { steps, restored } = descriptionOf(facts);
  const on = steps.filter((step) => step.isOn?.(facts) ?? true);
  const state = on.find(({ key }) => key === 'state');
  const putBack = on.find(({ key }) => key === 'putBack');
  const before = on.filter(
    (step) => !step.whenAdjusted && !['state', 'putBack', 'readAgain'].includes(step.key),
  );
  const after = on.filter((step) => step.whenAdjusted);
  const again = on.filter(({ key }) => key === 'readAgain');
  const hasFoundStep = before.some(({ key }) => key === 'found');
  const standsLeft = after.some((step) => step.fields.some(({ key }) => (text.values[key] ?? '') !== ''));
  const one = (step: CardStep<CardFacts>) => (
    <li key={step.key} data-fields={fieldNames(step, facts)}>
      <h3>{step.title}</h3>
      <StepFields {...props} step={step} />
      {step.key === 'found' ? <Verdicts entry={entry} judgement={judgement} side="found" /> : null}
    </li>
  );
  return (
    <ol className="steps">
      {state ? one(state) : null}
      <Preconditions {...props} />
      <Expected entry={entry} judgement={judgement} />
      {before.map(one)}
      <li data-fields={after.map((step) => fieldNames(step, facts)).join(' ')}>
        <h3>Adjustment</h3>
        <CheckInput
          name={`${entry.key || 'device'}-adjusted`}
          label="I adjusted it"
          checked={text.adjusted}
          disabled={judgement.isShut}
          onChange={(adjusted) =>
            onChange({
              adjusted,
              outcome: adjusted ? 'adjusted' : text.outcome === 'adjusted' ? '' : text.outcome,
            })
          }
        />
        <TickBoxes
          {...props}
          prefix={entry.key || 'device'}
          ticks={descriptionOf(facts)
            .circumstances(facts)
            .filter(({ key }) => key === REPAIRED)}
        />
        {text.adjusted || standsLeft ? (
          after.map((step) => (
            <div key={step.key} data-fields={fieldNames(step, facts)}>
              <h4>{step.title}</h4>
              <StepFields {...props} step={step} />
              {step.key === 'left' ? <Verdicts entry={entry} judgement={judgement} side="left" /> : null}
            </div>
          ))
        ) : (
          <p className="quiet">An adjustment of what is inside destroys drift information: prefer not to.</p>
        )}
      </li>
      {again.map(one)}
      <li
        data-fields={`putBack ${putBack ? fieldNames(putBack, facts) : ''} ${restored.map(({ key }) => key).join(' ')}`}
      >
        <h3>Put back</h3>
        {putBack ? <StepFields {...props} step={putBack} /> : null}
        <TickBoxes
          prefix={entry.key || 'device'}
          ticks={restored}
          text={text}
          problems={problems}
          onChange={onChange}
        />
      </li>
      <li data-fields="outcome">
        <h3>Outcome</h3>
        {hasFoundStep ? null : <Verdicts entry={entry} judgement={judgement} side="found" />}
        <div className="controls">
          <SelectInput
            label="Outcome"
            name={`${entry.key || 'device'}-outcome`}
            value={text.outcome}
            onChange={(value) => onChange({ outcome: outcomes.find((known) => known === value) ?? '' })}
            options={[
              { value: '', label: 'choose' },
              ...outcomes.map((known) => ({ value: known, label: sentence(outcomeWords[known]) })),
            ]}
            problem={problems.outcome ?? null}
          />
          <TextInput
            label="Remarks"
            value={text.note}
            onChange={(note) => onChange({ note })}
            className="wide"
          />
        </div>
      </li>
    </ol>
  );
}
