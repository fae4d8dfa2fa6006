import { Link } from 'wouter';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { plainFigure } from '../../ui/format.ts';
import type { StationSheet } from '../../../shared/contract/stations.ts';
import { AIR_LIMITS } from '../../../shared/trade/air/quality.ts';
import { convertPressure, convertTemperature, unitLabel } from '../../../shared/units/units.ts';

/** Margin above which a place is called dry, degF: the 18 degF (10 K) of the standard. */
const WANTED_MARGIN_DEGF = 18;

function marginText(marginDegF: number | null, inUnit: (degF: number) => string): string {
  if (marginDegF === null) return 'the coldest place is not known';
  if (marginDegF < 0) return `■ wet: frost forms ${inUnit(-marginDegF)} before the coldest place`;
  return marginDegF < WANTED_MARGIN_DEGF
    ? `◆ ${inUnit(marginDegF)} to spare, less than is wanted`
    : `${inUnit(marginDegF)} to spare`;
}

/** The newest dew point, told at each main’s pressure, against the coldest place; and what else is in the air. */
export function DrynessSection({ sheet }: { sheet: StationSheet }) {
  const { dryness, quality, temperatureUnit, pressureUnit } = sheet;
  const { coldestDegF, mostDegF, dewPoint, places } = dryness;
  const degrees = (degF: number): string =>
    `${Number(convertTemperature(degF, 'degF', temperatureUnit).toFixed(1))} ${unitLabel(temperatureUnit)}`;
  const difference = (degF: number): string =>
    temperatureUnit === 'degF' ? `${Number(degF.toFixed(0))} °F` : `${Number((degF / 1.8).toFixed(0))} K`;
  const psi = (value: number): string =>
    `${plainFigure(convertPressure(value, 'psi', pressureUnit))} ${unitLabel(pressureUnit)}`;
  return (
    <section aria-label="Dry and clean enough">
      <h2>Dry and clean enough?</h2>
      <p className="lead">
        {dewPoint === null
          ? 'No dew point was measured yet: read it on the card, with the pressure that it refers to.'
          : dewPoint.isAtLine
            ? `Dew point ${degrees(dewPoint.degF)} at ${psi(dewPoint.psi)} (${dewPoint.on}); at most ${degrees(mostDegF)} at line pressure${dewPoint.degF > mostDegF ? ': ■ too wet' : ''}.`
            : `Dew point ${degrees(dewPoint.degF)} at ${psi(dewPoint.psi)} (${dewPoint.on}): not at line pressure, so that the limit of ${degrees(mostDegF)} there says nothing of it.`}{' '}
        {coldestDegF === null
          ? 'The coldest place that the tubing passes is not in the register: the limit is 39 °F (4 °C) alone.'
          : `The coldest place that the tubing passes: ${degrees(coldestDegF)}.`}
      </p>
      {places.length > 0 ? (
        <PlainTable
          label="Dew point at each pressure"
          titles={['Where', '>Pressure', '>Frost or dew point', '>Over water', 'Against the coldest place']}
          rows={places.map(({ id, tag, psi: at, frostDegF, overWaterDegF, marginDegF }) => ({
            key: tag,
            cells: [
              id === null ? (
                tag
              ) : (
                <Link key="tag" href={`/register/${id}`}>
                  {tag}
                </Link>
              ),
              psi(at),
              degrees(frostDegF),
              degrees(overWaterDegF),
              marginText(marginDegF, difference),
            ],
          }))}
        />
      ) : null}
      <p>
        Quality by ISO 8573-1, particles : water : oil: <b>{quality.designation}</b>
        {quality.designation.includes('-') ? ' (– was not measured)' : ''}. Oil{' '}
        {quality.oilMg ? `${quality.oilMg.value} mg/m³ (${quality.oilMg.on})` : 'never measured'}, at most{' '}
        {AIR_LIMITS.oilMg}; largest particle{' '}
        {quality.largestUm ? `${quality.largestUm.value} µm (${quality.largestUm.on})` : 'never measured'}, at
        most {AIR_LIMITS.particleUm}.
      </p>
      <p className="quiet">
        The same air has a lower dew point at a lower pressure. Below freezing it is a frost point, over ice;
        charts often print it over water. Saturation after Hyland and Wexler; limits of ISA-7.0.01 as
        reported: 18 °F (10 K) below the coldest place, and never above 39 °F (4 °C), at line pressure.
      </p>
    </section>
  );
}
