/** One row of the grid: the figures of a card in a line, and a second line for what is only asked for at times. */
import type { KeyboardEvent } from 'react';
import type { CardFacts } from '../../../shared/cards/index.ts';
import type { CardField } from '../../../shared/cards/card.ts';
import { unitOf } from '../../../shared/cards/measures.ts';
import { instrumentWords } from '../../../shared/cards/instruments.ts';
import type { Instrument, InstrumentKind } from '../../../shared/cards/instruments.ts';
import { descriptionOf } from '../../../shared/cards/index.ts';
import { outcomes } from '../../../shared/trade/words.ts';
import { unitLabel } from '../../../shared/units/units.ts';
import { CheckInput } from '../../ui/fields.tsx';
import { differenceText, sentence, valueText } from '../../ui/format.ts';
import { typingProblem } from '../../ui/typed.ts';
import { fieldsOfRow } from './sheetState.ts';
import type { JudgedRow, RowText } from './sheetState.ts';

type Props = {
  judged: JudgedRow;
  index: number;
  kinds: readonly InstrumentKind[];
  instruments: readonly Instrument[];
  ticks: Record<string, boolean>;
  carried: { doneOn: string; instruments: Record<InstrumentKind, string> };
  /** True once somebody asked to write the sheet: then everything that is missing is said. */
  isAsked: boolean;
  columns: number;
  onChange: (change: Partial<RowText>) => void;
  onKey: (event: KeyboardEvent<HTMLElement>, column: string) => void;
};

type CellProps = Pick<Props, 'judged' | 'index' | 'onChange' | 'onKey'> & { field: CardField<CardFacts> };

function Cell({ judged, index, field, onChange, onKey }: CellProps) {
  const { text, facts, row, judgement } = judged;
  const value = text.values[field.key] ?? '';
  const name = `row${index}-${field.key}`;
  const label = `${row.tag} ${row.title}: ${field.label}`;
  const own = judged.problems.find((problem) => problem.field === field.key);
  const isWrong =
    (field.kind === 'figure' && typingProblem(value) !== null) || (value !== '' && own !== undefined);
  const common = {
    name,
    'aria-label': label,
    'aria-invalid': isWrong || undefined,
    title: own?.reason,
    value,
    // Typed on all the same: a main that was mistyped must not send the figures after it into the next row.
    'data-shut': (judgement.isShut && !['main', 'outdoor', 'dialBack'].includes(field.key)) || undefined,
    onKeyDown: (event: KeyboardEvent<HTMLElement>) => onKey(event, field.key),
  };
  const set = (next: string): void => onChange({ values: { ...text.values, [field.key]: next } });
  if (field.kind === 'choice')
    return (
      <select {...common} onChange={(event) => set(event.target.value)}>
        <option value="" />
        {field.choices.map((choice) => (
          <option key={choice} value={choice}>
            {sentence(choice)}
          </option>
        ))}
      </select>
    );
  const reads = field.reads?.(facts) ?? null;
  const unit = field.kind === 'figure' ? unitOf(field.measure, facts) : 'none';
  return (
    <input
      {...common}
      type={field.kind === 'date' ? 'date' : 'text'}
      inputMode={field.kind === 'figure' ? 'decimal' : undefined}
      className={field.kind === 'figure' ? 'numeric' : undefined}
      placeholder={reads === null ? undefined : valueText(reads, unit)}
      autoComplete="off"
      onChange={(event) => set(event.target.value)}
    />
  );
}

const verdictMarks: Record<string, string> = { inside: '✓', outside: '✗', unknown: '?' };

/** Verdict and the first thing that is not right, in a few words. */
function Says({ judged, isAsked }: Pick<Props, 'judged' | 'isAsked'>) {
  const { judgement, isBlank, problems, text, row } = judged;
  if (isBlank) return null;
  const verdicts = judgement.points.flatMap(({ point, found, left }) => {
    const one = text.outcome === 'adjusted' ? (left ?? found) : found;
    if (!one) return [];
    const unit = row.facts.points.find(({ key }) => key === point)?.unit ?? 'none';
    const figure = one.errorMilli === null ? '' : ` ${differenceText(one.errorMilli, unit, one.relation)}`;
    return [{ key: point, tone: one.verdict.split(',')[0], text: `${one.verdict}${figure}` }];
  });
  const wrong = judgement.remarks.find(({ tone }) => tone === 'wrong');
  // While a row is being typed it is not scolded for what comes next.
  const shown = isAsked || text.outcome !== '' ? problems[0]?.reason : wrong?.text.split('. ')[0];
  return (
    <span className="says">
      {verdicts.map((one) => (
        <span key={one.key} className={`says-verdict verdict-${one.tone}`}>
          {verdictMarks[one.tone] ?? '?'} {one.text}
        </span>
      ))}
      {shown === undefined ? null : <span className="says-problem">{shown}</span>}
    </span>
  );
}

function SecondLine(props: Props) {
  const { judged, index, columns, onChange, onKey } = props;
  const { text, facts } = judged;
  const { asked, may } = fieldsOfRow(facts, text.outcome === 'adjusted');
  const figures = text.isOpen ? [...asked, ...may] : asked;
  return (
    <tr className="paper-second">
      <td colSpan={columns}>
        <div className="controls">
          {figures.map((field) => (
            <label key={field.key} className="field">
              <span>
                {field.label}
                {field.kind === 'figure' ? `, ${unitLabel(unitOf(field.measure, facts))}` : ''}
              </span>
              <Cell judged={judged} index={index} field={field} onChange={onChange} onKey={onKey} />
            </label>
          ))}
          {text.isOpen ? <Besides {...props} /> : null}
        </div>
      </td>
    </tr>
  );
}

/** What a row says otherwise than the sheet, and its remarks. */
function Besides({ judged, index, kinds, instruments, carried, ticks, onChange }: Props) {
  const { text, row, facts } = judged;
  const { preconditions, restored, circumstances } = descriptionOf(facts);
  return (
    <>
      <fieldset className="ticks">
        <legend>True of this row</legend>
        {[...preconditions, ...circumstances(facts), ...restored].map(({ key, text: words }) => (
          <CheckInput
            key={key}
            name={`row${index}-${key}`}
            label={words}
            checked={ticks[key] ?? false}
            onChange={(checked) => onChange({ ticks: { ...text.ticks, [key]: checked } })}
          />
        ))}
      </fieldset>
      <label className="field">
        <span>Why something is not ticked</span>
        <input
          name={`row${index}-tickNote`}
          value={text.except}
          autoComplete="off"
          onChange={(event) => onChange({ except: event.target.value })}
        />
      </label>
      <label className="field">
        <span>Remarks</span>
        <input
          name={`row${index}-note`}
          value={text.note}
          autoComplete="off"
          onChange={(event) => onChange({ note: event.target.value })}
        />
      </label>
      <label className="field">
        <span>Date from this row on</span>
        <input
          type="date"
          name={`row${index}-doneOn`}
          value={text.doneOn || carried.doneOn}
          onChange={(event) => onChange({ doneOn: event.target.value })}
        />
      </label>
      {kinds.map((kind) => (
        <label key={kind} className="field">
          <span>{sentence(instrumentWords[kind])} from this row on</span>
          <select
            name={`row${index}-instrument-${kind}`}
            aria-label={`${row.tag}: ${instrumentWords[kind]} from this row on`}
            value={text.instruments[kind] || carried.instruments[kind]}
            onChange={(event) =>
              onChange({ instruments: { ...text.instruments, [kind]: event.target.value } })
            }
          >
            <option value="">not chosen</option>
            {instruments
              .filter((one) => one.kind === kind)
              .map((one) => (
                <option key={one.id} value={one.id}>
                  {one.tag}
                </option>
              ))}
          </select>
        </label>
      ))}
    </>
  );
}

export function PaperRowView(props: Props) {
  const { judged, index, isAsked, onChange, onKey } = props;
  const { text, facts, row } = judged;
  const { first } = fieldsOfRow(facts, false);
  const isOpen =
    text.isOpen || text.outcome === 'adjusted' || (facts.card === 'setpoint' && facts.isFirstOfTwo);
  const tone = judged.isBlank ? 'blank' : judged.problems.length > 0 ? 'unready' : 'ready';
  return (
    <>
      <tr data-row={index} className={`paper-row paper-${tone}`}>
        <th scope="row">
          <button
            type="button"
            tabIndex={-1}
            className="paper-more"
            aria-expanded={isOpen}
            aria-label={`${isOpen ? 'Less' : 'More'} of ${row.tag} ${row.title}`}
            onClick={() => onChange({ isOpen: !text.isOpen })}
          >
            {isOpen ? '−' : '+'}
          </button>{' '}
          {row.tag} <span className="subtitle">{row.key}</span>
        </th>
        {first.map((field) => (
          <td key={field.key}>
            <Cell judged={judged} index={index} field={field} onChange={onChange} onKey={onKey} />
          </td>
        ))}
        <td>
          <select
            name={`row${index}-outcome`}
            aria-label={`${row.tag} ${row.title}: Outcome`}
            value={text.outcome}
            onKeyDown={(event) => onKey(event, 'outcome')}
            onChange={(event) =>
              onChange({ outcome: outcomes.find((known) => known === event.target.value) ?? '' })
            }
          >
            <option value="" />
            {outcomes.map((known) => (
              <option key={known} value={known}>
                {sentence(known)}
              </option>
            ))}
          </select>
        </td>
        <td>
          <Says judged={judged} isAsked={isAsked} />
        </td>
      </tr>
      {isOpen ? <SecondLine {...props} /> : null}
    </>
  );
}
