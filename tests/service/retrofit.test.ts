/** Quantities of a retrofit: counted by hand for a few units, and for the sample against what its register holds. */
import { describe, expect, it } from 'vitest';
import { distributionOf } from '../../service/retrofit/distributions.ts';
import { partsOf, retrofitOptions, sumOfParts, unitKindOf } from '../../shared/retrofit/units.ts';
import { packScope } from '../../shared/contract/packScope.ts';
import { sampleService } from '../support/books.ts';

const valve = (duty: string) => ({ kind: 'valve' as const, duty });
const damper = (duty: string) => ({ kind: 'damper' as const, duty });
const just = (count: number) => ({ low: count, high: count });

describe('the kind of a unit', () => {
  it.each([
    ['single', [valve('hot water')], 'radiator or perimeter zone'],
    ['single', [valve('steam')], 'radiator or perimeter zone'],
    ['single', [valve('hot water'), valve('chilled water')], 'fan coil'],
    ['changeover', [valve('changeover coil')], 'fan coil'],
    ['single', [damper('cooling air')], 'air terminal, cooling only'],
    ['two-setpoint', [damper('cooling air'), valve('hot water')], 'air terminal with reheat'],
    ['single', [damper('outdoor air'), valve('hot water')], 'unit ventilator or constant-volume zone'],
    ['receiver', [damper('outdoor air'), valve('hot water')], 'air handler'],
    ['receiver', [valve('hot water')], 'plant'],
    ['humidity', [], 'humidity control'],
    ['single', [], 'controller without actuators'],
  ])('of a %s controller with %j is: %s', (controllerKind, actuators, kind) =>
    expect(unitKindOf({ controllerKind, actuators })).toBe(kind),
  );
});

describe('points and parts', () => {
  // Common engineering practice, from memory (air-energy reference 5.4).
  const box = { controllerKind: 'single', actuators: [damper('cooling air'), valve('hot water')] };
  it('of a terminal with reheat are three AI and two AO, moved by transducers or by electric actuators', () => {
    expect(partsOf(box, 'full electric')).toMatchObject({
      sensors: just(3),
      controllers: just(1),
      electricActuators: just(2),
      transducers: just(0),
      ai: just(3),
      ao: just(2),
      actuatorsKept: just(0),
    });
    expect(partsOf(box, 'keep actuators')).toMatchObject({
      transducers: { low: 1, high: 2 },
      ao: { low: 1, high: 2 },
      electricActuators: just(0),
      actuatorsKept: just(2),
    });
    expect(partsOf(box, 'thermostats only')).toMatchObject({
      thermostats: just(1),
      controllers: just(0),
      transducers: just(0),
      actuatorsKept: just(2),
    });
  });
  it('of an air handler have ranges, and radio thermostats leave it as it is', () => {
    const handler = {
      controllerKind: 'receiver',
      actuators: [damper('outdoor air'), damper('return air'), valve('hot water'), valve('chilled water')],
    };
    expect(partsOf(handler, 'full electric')).toMatchObject({
      ai: { low: 6, high: 9 },
      ao: just(4),
      bi: { low: 4, high: 6 },
      bo: { low: 1, high: 3 },
    });
    expect(partsOf(handler, 'thermostats only')).toMatchObject({
      thermostats: just(0),
      ai: just(0),
      actuatorsKept: just(4),
    });
    expect(sumOfParts([])).toMatchObject({ ai: just(0) });
  });
});

describe('how errors are spread', () => {
  it('counts what lies on a limit as within it', () =>
    expect(distributionOf([0, 1, -1, 2, -3, 3.1])).toEqual({
      count: 6,
      within1: 3 / 6,
      within2: 4 / 6,
      beyond3: 1 / 6,
      medianAbsolute: 1.5,
      // Between the fifth and the sixth of six, half way.
      absolute90: 3.05,
      warmShare: 3 / 6,
    }));
  it('says nothing of nothing', () =>
    expect(distributionOf([])).toMatchObject({ count: 0, within1: null, medianAbsolute: null }));
});

describe('the sample', () => {
  it('is counted whole, and its parts add up to it', async () => {
    const service = await sampleService();
    const scope = packScope.parse({});
    const whole = await service.runJob('retrofit.quantities', scope);
    const count = async (table: 'controller' | 'actuator') =>
      (await service.book.reader.selectFrom(table).select('device_id').execute()).length;
    expect(whole.units.reduce((sum, { units }) => sum + units, 0)).toBe(await count('controller'));
    expect(whole.actuators.length).toBe(await count('actuator'));
    expect(whole.totals['full electric'].electricActuators).toEqual(just(await count('actuator')));
    expect(whole.totals['keep actuators'].actuatorsKept).toEqual(just(await count('actuator')));
    expect(whole.unmeasured).toBe(0);
    for (const option of retrofitOptions) {
      const buildings = ['HALL', 'ANNEX', 'STORES'];
      const parts = await Promise.all(
        buildings.map(async (building) => service.runJob('retrofit.quantities', { ...scope, building })),
      );
      expect(sumOfParts(parts.map(({ totals }) => totals[option]))).toEqual(whole.totals[option]);
    }
    // Full removal sheds all that a station carries; a radio thermostat’s bleed is not known.
    const [station] = whole.stations;
    expect(station.left['full electric']).toEqual({ low: 0, typical: 0, high: 0 });
    expect(station.shedKwh['full electric']?.central).toBeCloseTo(
      (station.now.typical / 1728) * (3.7 / 14) * 8760,
      6,
    );
    expect(station.shedKwh['thermostats only']).toBeNull();
    expect(whole.distributions.newest.count).toBe(348);
    expect(whole.access.length).toBe(8);
  });
  it('refuses a part that it does not have', async () => {
    const service = await sampleService();
    await expect(
      service.runJob('retrofit.quantities', { ...packScope.parse({}), main: 'NO-SUCH' }),
    ).rejects.toMatchObject({ details: { problems: [{ column: 'main', value: 'NO-SUCH' }] } });
  });
});
