import { flowText, percentText, plainFigure } from '../ui/format.ts';
import type { AirTestResult } from '../../shared/trade/air/airTests.ts';
import { SCIM_PER_SCFM } from '../../shared/trade/air/flow.ts';

const words: Record<AirTestResult['measures'], string> = {
  demand: 'Demand',
  leaks: 'Leaks',
  capacity: 'Delivers',
  bleed: 'Takes',
  quality: 'Quality',
};

/** What a test comes to in a few words: 2.67 scfm, 33.3 % of the time. */
export function resultText({
  measures,
  scfm,
  share,
}: Pick<AirTestResult, 'measures' | 'scfm' | 'share'>): string {
  const flow =
    scfm === null ? '' : measures === 'bleed' ? `${plainFigure(scfm * SCIM_PER_SCFM)} scim` : flowText(scfm);
  return [share === null ? '' : `runs ${percentText(share)} of the time`, flow]
    .filter((part) => part !== '')
    .join(', ');
}

/** The result of a test with its factor, why that factor applies, other forms and cautions. */
export function AirResult({
  result,
  isLive = false,
}: {
  result: Omit<AirTestResult, 'factor'>;
  isLive?: boolean;
}) {
  if (result.measures === 'quality') return null;
  return (
    <div role={isLive ? 'status' : undefined} className="air-result">
      <p>
        <b>
          {words[result.measures]}: {resultText(result)}
        </b>
        . {result.why}
      </p>
      {result.others.length > 0 ? (
        <ul>
          {result.others.map((other) => (
            <li key={other.words}>
              {flowText(other.scfm)}: {other.words}
            </li>
          ))}
        </ul>
      ) : null}
      {result.cautions.map((caution) => (
        <p key={caution} className="quiet">
          {caution}
        </p>
      ))}
    </div>
  );
}
