import { useAddressFields } from '../../ui/address.ts';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { flowText, plainFigure } from '../../ui/format.ts';
import { typed, typingProblem } from '../../ui/typed.ts';
import type { StationSheet } from '../../../shared/contract/stations.ts';
import {
  SCIM_PER_SCFM,
  STANDARD,
  atmosphereAt,
  chokedFrom,
  flowThrough,
} from '../../../shared/trade/air/flow.ts';
import type { HoleFlow } from '../../../shared/trade/air/flow.ts';
import { diameterInches, diameterUnits, parseDiameter } from '../../../shared/trade/air/leaks.ts';
import type { DiameterUnit } from '../../../shared/trade/air/leaks.ts';
import { convertPressure, convertTemperature, fromMilli, unitLabel } from '../../../shared/units/units.ts';

const LITRES_A_SECOND_PER_SCFM = 0.471947;

/** Flow of air through a hole or a restrictor: every figure that goes into it is said. All of it stands in the address. */
export function HoleCalculator({ sheet }: { sheet: StationSheet }) {
  const { search, setField } = useAddressFields();
  const { pressureUnit, temperatureUnit } = sheet;
  const text = (name: string, otherwise: string): string => search.get(name) ?? otherwise;
  const [size, coefficient] = [text('hole', '1/32'), text('c', '0.65')];
  const sizeUnit = diameterUnits.find((one) => one === search.get('in')) ?? 'in';
  const above = text('above', pressureUnit === 'psi' ? '20' : '140');
  const [below, air, height] = [
    text('below', '0'),
    text('air', ''),
    text('height', String(sheet.altitudeFt ?? 0)),
  ];
  const figure = (own: string): number | null => {
    const milli = typed(own);
    return milli === null ? null : fromMilli(milli);
  };
  const micro = parseDiameter(size);
  const psi = (own: string): number | null => {
    const value = figure(own);
    return value === null ? null : convertPressure(value, pressureUnit, 'psi');
  };
  const degrees = air === '' ? null : figure(air);
  const given = {
    abovePsi: psi(above),
    belowPsi: psi(below),
    coefficient: figure(coefficient),
    feet: figure(height),
  };
  const worked = ((): { flow: HoleFlow; from: number } | string => {
    if (air !== '' && degrees === null) return 'Fill in every field; an empty air temperature is 70 °F.';
    const { abovePsi, belowPsi, coefficient: c, feet } = given;
    if (micro === null || abovePsi === null || belowPsi === null || c === null || feet === null)
      return 'Fill in every field.';
    try {
      const atmospherePsi = atmosphereAt(feet);
      const flow = flowThrough({
        diameterIn: diameterInches({ diameterMicro: micro, diameterUnit: sizeUnit }),
        coefficient: c,
        abovePsi,
        belowPsi,
        atmospherePsi,
        degF: degrees === null ? STANDARD.degF : convertTemperature(degrees, temperatureUnit, 'degF'),
      });
      return { flow, from: chokedFrom(atmospherePsi, belowPsi) };
    } catch (error) {
      return error instanceof RangeError ? `It takes ${error.message}.` : 'That cannot be worked out.';
    }
  })();
  const pressureText = (value: number): string =>
    `${plainFigure(convertPressure(value, 'psi', pressureUnit))} ${unitLabel(pressureUnit)}`;
  return (
    <section aria-label="Flow through a hole">
      <h2>Flow through a hole</h2>
      <p className="quiet">
        For a leak, a restrictor or an open end: isentropic flow of a perfect gas with the coefficient that
        you give (1 ideal, 0.97 rounded, 0.61 sharp, 0.65 where nobody has seen the edge). Standard air: 14.7
        psi absolute, 70 °F, dry.
      </p>
      <div className="controls">
        <TextInput
          label="Hole, across"
          numeric
          value={size}
          onChange={(value) => setField('hole', value)}
          problem={micro === null ? 'such as 1/64, 0.007 or 0.8' : null}
        />
        <SelectInput
          label="In"
          value={sizeUnit}
          onChange={(value) => setField('in', value as DiameterUnit)}
          options={diameterUnits.map((one) => ({ value: one, label: one }))}
        />
        <TextInput
          label="Its coefficient"
          numeric
          value={coefficient}
          onChange={(value) => setField('c', value)}
          problem={typingProblem(coefficient)}
        />
        <TextInput
          label="Pressure before it"
          numeric
          unit={unitLabel(pressureUnit)}
          value={above}
          onChange={(value) => setField('above', value)}
          problem={typingProblem(above)}
        />
        <TextInput
          label="Pressure after it"
          numeric
          unit={unitLabel(pressureUnit)}
          value={below}
          onChange={(value) => setField('below', value)}
          problem={typingProblem(below)}
        />
        <TextInput
          label="Air temperature"
          numeric
          unit={unitLabel(temperatureUnit)}
          value={air}
          onChange={(value) => setField('air', value)}
          help="empty = 70 °F"
          problem={typingProblem(air)}
        />
        <TextInput
          label="Above the sea"
          numeric
          unit="ft"
          value={height}
          onChange={(value) => setField('height', value)}
          problem={typingProblem(height)}
        />
      </div>
      {typeof worked === 'string' ? (
        <p role="status">{worked}</p>
      ) : (
        <p role="status" className="air-result">
          <b>{flowText(worked.flow.scfm)}</b>, {plainFigure(worked.flow.scfm * SCIM_PER_SCFM)} scim,{' '}
          {plainFigure(worked.flow.scfm * LITRES_A_SECOND_PER_SCFM)} L/s,{' '}
          {plainFigure(worked.flow.gramsPerSecond)} g/s.{' '}
          {worked.flow.scfm === 0
            ? 'Nothing flows: the pressure after it is not lower.'
            : worked.flow.isChoked
              ? `Choked: from ${pressureText(worked.from)} before it the pressure after it does not count.`
              : `Not choked: below ${pressureText(worked.from)} before it the pressure after it counts, and the formula of choked flow would give too much.`}
        </p>
      )}
    </section>
  );
}
