/** Verdicts and remarks of a card: words and a sign beside every colour. */
import type { JudgedError, Remark } from '../../shared/cards/card.ts';
import type { Unit } from '../../shared/units/units.ts';
import { differenceText, likelihoodText, sentence, toleranceText } from '../ui/format.ts';

/** Verdict of one reading with its doubt and how likely it is in tolerance. */
export function VerdictLine({
  judged,
  unit,
  name,
}: {
  judged: JudgedError | null;
  unit: Unit;
  name: string | null;
}) {
  if (!judged) return null;
  const tone = judged.verdict.split(',')[0];
  return (
    <p className={`verdict verdict-${tone}`} role="status">
      {name === null ? null : <span className="verdict-name">{sentence(name)}</span>}{' '}
      <b>
        {judged.errorMilli === null
          ? judged.verdict === 'inside'
            ? 'proved'
            : 'not proved'
          : judged.verdict}
      </b>
      {judged.errorMilli === null
        ? null
        : ` error ${differenceText(judged.errorMilli, unit, judged.relation)}${judged.method === 'read' ? '' : ` by ${judged.method}`}`}
      {judged.relation === null || judged.relation === '='
        ? ''
        : ': the branch is clipped, so this is a bound'}
      {judged.doubtMilli === null || judged.errorMilli === null ? null : (
        <span className="doubt">
          {' '}
          · doubt {toleranceText(judged.doubtMilli, unit)}
          {judged.conformancePpm === null ? '' : ` · ${likelihoodText(judged.conformancePpm)} in tolerance`}
        </span>
      )}
    </p>
  );
}

const marks: Record<Remark['tone'], string> = { right: '✓', look: '!', wrong: '✗', plain: '·' };
const spoken: Record<Remark['tone'], string> = {
  right: 'right: ',
  look: 'look: ',
  wrong: 'wrong: ',
  plain: '',
};

/** Remarks of a step, each with its sign. */
export function Remarks({ remarks }: { remarks: readonly Remark[] }) {
  if (remarks.length === 0) return null;
  return (
    <ul className="remarks" role="status">
      {remarks.map(({ tone, text }) => (
        <li key={text} className={`remark remark-${tone}`}>
          <span aria-hidden="true" className="remark-mark">
            {marks[tone]}
          </span>
          <span className="visually-hidden">{spoken[tone]}</span>
          {text}
        </li>
      ))}
    </ul>
  );
}
