/**
 * Air: flow, leak tests, budget, cost, quality and dew points against the check values of data/energy-check-values.csv (1 to
 * 63, 97, 98; each line names its source: "seen" was read there, "memory" recalled, "calc" worked out), the orifice table of
 * data/air-orifice-table.csv ("Discharge of air through an orifice", 100 % coefficient, two public copies), and the reference
 * library psychrolib for saturation and dew points. Checks of springs, stations and air quality by their numbers in the
 * pneumatics reference.
 */
import { createRequire } from 'node:module';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { reliefRule } from '../../shared/register/findings/supplyRules.ts';
import { strokeMargin } from '../../shared/trade/actuators.ts';
import { airBudget, bleedDefaults, unexplained } from '../../shared/trade/air/budget.ts';
import { energyOfFlow, energyOfRunning, specificPower, volumeOfFlow } from '../../shared/trade/air/cost.ts';
import {
  CRITICAL_RATIO,
  SCIM_PER_SCFM,
  atmosphereAt,
  chokedFrom,
  flowThrough,
  leakBand,
} from '../../shared/trade/air/flow.ts';
import { dewPointMoved, dewPointOfAir, saturatesAt, saturation } from '../../shared/trade/air/humidity.ts';
import {
  CUBIC_FEET_PER_GALLON,
  bleedDown,
  bleedDownExact,
  capacityFor,
  delivered,
  receiverVolume,
  regulatedDemand,
  runShare,
  runVerdict,
} from '../../shared/trade/air/leakTests.ts';
import { qualityClass } from '../../shared/trade/air/quality.ts';
import { dewPointAt, mostDewPoint } from '../../shared/trade/dewPoint.ts';
import { gapBetween, overlapWaste } from '../../shared/trade/sequencing.ts';
import { hysteresisOf, hysteresisShare, springShift } from '../../shared/trade/strokeTest.ts';
import { convertTemperatureDifference, convertPressure } from '../../shared/units/units.ts';
import { allowedOf, rowsOf } from '../support/publishedTables.ts';

type Psychrolib = {
  SetUnitSystem: (units: unknown) => void;
  SI: unknown;
  GetSatVapPres: (degC: number) => number;
  GetTDewPointFromRelHum: (degC: number, share: number) => number;
};
const psychrolib = createRequire(import.meta.url)('psychrolib') as Psychrolib;
psychrolib.SetUnitSystem(psychrolib.SI);

const toC = (degF: number): number => (degF - 32) / 1.8;
const toF = (degC: number): number => degC * 1.8 + 32;
const moved = (degF: number, fromPsi: number, toPsi: number, over: 'ice' | 'water' = 'ice'): number =>
  toF(dewPointMoved(toC(degF), { fromPsi, toPsi }, over));
const psiOfBar = (bar: number): number => (bar * 1e5) / 6894.757;
const scfm = (fraction: number, psi: number, coefficient = 1): number =>
  flowThrough({ diameterIn: fraction, coefficient, abovePsi: psi }).scfm;
const leak = (price: { count: number; cfm: number; hours?: number }): number =>
  energyOfFlow(price.count * price.cfm * 0.61, 0.18, price.hours ?? 7_000) * 0.05;
const fall = { volume: 10.694, from: 100, to: 50, minutes: 30 };
const tank = 60 * CUBIC_FEET_PER_GALLON;
// The device list of 2.3, by its own figures.
const listed = airBudget(
  new Map(),
  new Map(
    (
      [
        ['one-pipe, 0.007 in', 60, 28],
        ['two-pipe', 40, 12],
        ['transmitter', 10, 28],
        ['receiver-controller', 10, 30],
        ['bleed relay', 12, 15],
        ['positioner', 14, 30],
        ['transducer, bleed', 4, 40],
      ] as const
    ).map(([kind, count, scim]) => [kind, { count, scim: count * scim }]),
  ),
);
const worked = { one: 1 / 32, sixteenth: 1 / 16 };

/** What the program gives for each line of the table. */
const own: Record<number, () => number> = {
  1: () => SCIM_PER_SCFM,
  2: () => SCIM_PER_SCFM / 60,
  3: () => 2.54 ** 3,
  4: () => (0.3048 ** 3 * 1000) / 60,
  5: () => convertPressure(20, 'psi', 'kPa'),
  6: () => convertTemperatureDifference(2.5, 'degF', 'degC'),
  7: () => convertTemperatureDifference(6339, 'degF', 'degC'),
  8: () => (1e5 * 1054.804) / 3.6e6,
  9: () => atmosphereAt(5280),
  10: () => CRITICAL_RATIO,
  11: () => chokedFrom(),
  12: () => scfm(1 / 16, 5),
  13: () => scfm(1 / 16, 12),
  14: () => scfm(1 / 16, 15),
  15: () => scfm(1 / 16, 20),
  16: () => scfm(1 / 32, 25),
  17: () => scfm(1 / 64, 20),
  18: () => scfm(1 / 16, 100),
  19: () => scfm(1 / 4, 90),
  // The published approximate formula itself: 0.3 % below first principles.
  20: () => (0.5303 * 60) / 0.07494 / Math.sqrt(529.67),
  21: () => scfm(1 / 32, 20, 0.61),
  22: () => scfm(1 / 32, 8, 0.61),
  23: () => flowThrough({ diameterIn: 1 / 16, coefficient: 1, abovePsi: 20 }).gramsPerSecond,
  24: () =>
    flowThrough({ diameterIn: 1 / 32, coefficient: 0.61, abovePsi: 20, atmospherePsi: atmosphereAt(5280) })
      .scfm,
  25: () => scfm(0.007, 20) * SCIM_PER_SCFM,
  26: () =>
    flowThrough({ diameterIn: 0.007, coefficient: 0.8, abovePsi: 20, belowPsi: 9 }).scfm * SCIM_PER_SCFM,
  27: () => 100 * runShare(3, 9),
  28: () => bleedDown(fall),
  29: () => bleedDownExact(fall),
  30: () => bleedDownExact({ ...fall, from: 80, to: 60 }) / regulatedDemand({ ...fall, from: 80, to: 60 }),
  31: () => bleedDownExact(fall) / regulatedDemand(fall),
  32: () => regulatedDemand({ volume: tank, from: 80, to: 60, minutes: 12 }),
  33: () => delivered({ volume: tank, from: 60, to: 80, minutes: 1.5, demand: 0 }),
  34: () => 0.62 * 96 - 12.75,
  35: () => volumeOfFlow(1.62, 525_600),
  36: () => (volumeOfFlow(1.62, 525_600) / 1000) * 0.18,
  37: () => (volumeOfFlow(1.62, 525_600) / 1000) * 0.32,
  38: () => (volumeOfFlow(47, 525_600) / 1000) * 0.5,
  39: () => energyOfFlow(6.5, 0.18, 8000) * 0.05,
  40: () => leak({ count: 100, cfm: 1.46 }),
  41: () => leak({ count: 50, cfm: 5.72 }),
  42: () => leak({ count: 10, cfm: 100.9 }),
  43: () => energyOfFlow(scfm(worked.one, 20, 0.61)),
  44: () => energyOfFlow(scfm(worked.sixteenth, 20, 0.61)),
  45: () => 8 * runShare(3, 6),
  46: () => energyOfRunning(2.2, 1 / 3),
  47: () => specificPower(4, 0.85),
  48: () => listed.scim.typical,
  49: () => listed.scfm.typical,
  50: () => (100 * listed.scfm.typical) / 8,
  51: () => unexplained(8, 0.45, listed.scfm.typical),
  52: () => saturation(20),
  53: () => saturation(0),
  54: () => saturation(-20),
  55: () => moved(35, 100, 0),
  56: () => moved(35, 100, 0, 'water'),
  57: () => moved(35, 80, 20),
  58: () => moved(35, 80, 18),
  59: () => moved(50, 80, 20),
  60: () => moved(-40, 80, 20),
  61: () => toF(dewPointOfAir(toC(75), 0.5)),
  62: () => moved(toF(dewPointOfAir(toC(75), 0.5)), 0, 80),
  63: () => dewPointMoved(2, { fromPsi: psiOfBar(7), toPsi: 0 }, 'water'),
  97: () => overlapWaste(1.5, 12, 9.6).peak,
  98: () => (overlapWaste(1.5, 12, 9.6).mean * 900) / 1000,
};

describe('air, check values 1 to 63, 97 and 98', () => {
  const rows = rowsOf('energy-check-values.csv').filter(
    ([id]) => Number(id) <= 63 || ['97', '98'].includes(id),
  );
  it('each line of the table has its figure here', () =>
    expect(rows.map(([id]) => Number(id))).toEqual(Object.keys(own).map(Number)));
  it.each(rows)('check %s, %s: %s', (id, _topic, _input, expected, _unit, tolerance) => {
    const wanted = Number(expected);
    expect(Math.abs(own[Number(id)]() - wanted)).toBeLessThanOrEqual(allowedOf(wanted, tolerance));
  });
});

describe('the published table of flow through an orifice', () => {
  it.each(
    rowsOf('air-orifice-table.csv').map(([psi, diameter, , cfm]) => [
      Number(psi),
      Number(diameter),
      Number(cfm),
    ]),
  )('%d psi through %d in', (psi, diameter, cfm) => {
    // Published to three digits, the smallest to one or two; first principles agree within 0.8 % from 1/16 in on.
    const rounding = 0.5 * 10 ** -(String(cfm).split('.')[1]?.length ?? 0);
    expect(Math.abs(scfm(diameter, psi) - cfm)).toBeLessThanOrEqual(0.012 * cfm + rounding);
  });
  it('flow grows with the pressure above, never falls with a lower one beneath, and is the same on both sides of the choke', () =>
    fc.assert(
      fc.property(
        fc.double({ min: 0.1, max: 150, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (above, share) => {
          const hole = { diameterIn: 0.05, coefficient: 0.65, abovePsi: above };
          const open = flowThrough(hole).scfm;
          const into = flowThrough({ ...hole, belowPsi: above * share }).scfm;
          expect(into).toBeLessThanOrEqual(open + 1e-12);
          expect(flowThrough({ ...hole, abovePsi: above + 0.1 }).scfm).toBeGreaterThan(open);
        },
      ),
    ));
  it('a leak nobody has seen the edge of has a band', () => {
    const band = leakBand({ diameterIn: 1 / 32, abovePsi: 20 });
    expect([band.low.toFixed(4), band.typical.toFixed(4), band.high.toFixed(4)]).toEqual([
      '0.3005',
      '0.3202',
      '0.4778',
    ]);
  });
  it('what cannot be is refused', () => {
    expect(() => flowThrough({ diameterIn: -1, coefficient: 1, abovePsi: 20 })).toThrow('a hole of 0 in');
    expect(() => flowThrough({ diameterIn: 1, coefficient: 1.2, abovePsi: 20 })).toThrow('coefficient');
    expect(() => flowThrough({ diameterIn: 1, coefficient: 1, abovePsi: -20 })).toThrow('vacuum');
    expect(flowThrough({ diameterIn: 1, coefficient: 1, abovePsi: 8, belowPsi: 9 }).scfm).toBe(0);
  });
});

describe('dew points against the reference library', () => {
  it('saturation from -60 to 60 degrees', () => {
    for (let degC = -60; degC <= 60; degC += 1.7)
      expect(saturation(degC) / psychrolib.GetSatVapPres(degC)).toBeCloseTo(1, 5);
  });
  it('dew points of air', () => {
    for (const [degC, share] of [
      [24, 0.5],
      [10, 0.9],
      [35, 0.2],
      [-5, 0.7],
    ])
      expect(
        Math.abs(dewPointOfAir(degC, share) - psychrolib.GetTDewPointFromRelHum(degC, share)),
      ).toBeLessThan(0.02);
  });
  it('the form that the cards keep agrees within a tenth of a degree from -40 to 38', () => {
    for (let degC = -40; degC <= 20; degC += 3)
      expect(
        Math.abs(dewPointAt(degC, 80, 20) - dewPointMoved(degC, { fromPsi: 80, toPsi: 20 })),
      ).toBeLessThan(0.1);
  });
  it('back and forth', () =>
    fc.assert(
      fc.property(fc.double({ min: -80, max: 90, noNaN: true }), (degC) => {
        // Ice and liquid meet at the triple point, with a step of a hundredth of a percent.
        if (Math.abs(degC) < 0.05) return;
        expect(saturatesAt(saturation(degC))).toBeCloseTo(degC, 5);
      }),
    ));
});

describe('springs and the station, by their numbers in the pneumatics reference', () => {
  it('check 61: a relief of 25 psi with the high main set to 25 is a configuration error', () => {
    const regulator = {
      id: 1,
      tag: 'PRV',
      class: 'regulator' as const,
      inServiceOn: null,
      feeders: [],
      fed: [],
      ownBleed: null,
      kind: 'two-pressure' as const,
      low: 20,
      high: 25,
      relief: 25,
      pilotBy: null,
    };
    const network = { nodes: new Map(), points: [] };
    expect(reliefRule(network, regulator)).toMatchObject([{ code: 'relief-low', severity: 'stop' }]);
    expect(reliefRule(network, { ...regulator, relief: 25.1 })).toEqual([]);
  });
  const within = (value: number, wanted: number, slack: number): void =>
    expect(Math.abs(value - wanted)).toBeLessThanOrEqual(slack);
  it('44, 45: gap and overlap', () => {
    const dead = gapBetween({ start: 3, end: 7 }, { start: 8, end: 12 }, 2.5);
    const both = gapBetween({ start: 8, end: 13 }, { start: 5, end: 10 }, 2.5);
    expect([dead.pressure, dead.degrees, both.pressure, both.degrees]).toEqual([1, 0.4, -2, -0.8]);
  });
  it('46: shift of a spring under load', () =>
    within(springShift({ drop: 20, seatArea: 0.7854, diaphragmArea: 10 }), 1.571, 0.005));
  it('47: hysteresis', () => {
    const test = { startUp: 8.3, endUp: 13.2, endDown: 12, startDown: 7.6 };
    within(hysteresisOf(test), 1.2, 0.005);
    within(100 * hysteresisShare(test, { start: 8, end: 13 }), 24, 0.5);
  });
  it('62 to 64: highest dew point at the dryer', () => {
    expect([mostDewPoint(40), mostDewPoint(60), mostDewPoint(50)]).toEqual([22, 39, 32]);
  });
  it('65: 35 degrees at 80 psi at 18 psi', () => within(moved(35, 80, 18), 12.2, 1.5));
  it('66: class by what was measured', () =>
    expect(qualityClass({ particles: 900, dewPointDegC: -5, oilMg: 0.8 })).toBe('3:4:3'));
  it('67, 68: run shares', () =>
    expect([
      runShare(4, 12),
      runVerdict(runShare(4, 12)),
      runVerdict(runShare(6, 6)),
      runVerdict(0.6),
      runVerdict(1 / 3),
    ]).toEqual([0.25, 'good', 'look', 'too long', 'good']));
  it('69: 80 gal from 100 to 60 psi in 12 minutes', () =>
    within(bleedDown({ volume: 80 * CUBIC_FEET_PER_GALLON, from: 100, to: 60, minutes: 12 }), 3.03, 0.01));
  it('70: a receiver that holds 3 scfm for 4 minutes', () => {
    const volume = receiverVolume(3, 4, { from: 90, to: 70 });
    within(volume, 8.82, 0.005);
    within(volume / CUBIC_FEET_PER_GALLON, 65.98, 0.01);
  });
  it('71: capacity for a load', () => within(capacityFor(1.2), 3.6, 0.005));
  it('72 to 74: flow', () => {
    within(scfm(1 / 64, 20), 0.123, 0.001);
    within(scfm(1 / 16, 80), 5.36, 0.02);
    within(scfm(0.005, 20) * SCIM_PER_SCFM, 21.7, 0.1);
  });
  it('91, 92: stroke margins', () =>
    expect([strokeMargin(13, 13.5), strokeMargin(15, 13)]).toEqual([-0.5, 2]));
});

describe('defaults of the budget', () => {
  it('are the reference’s (marks in data/air-device-bleed-defaults.csv: worked out, or from memory)', () => {
    const figures = rowsOf('air-device-bleed-defaults.csv').map(([, low, typical, high]) =>
      [low, typical, high].map(Number),
    );
    const ours = Object.values(bleedDefaults).map(({ low, typical, high }) => [low, typical, high]);
    const inOrder = (rows: readonly (readonly number[])[]): string[] =>
      rows.map((row) => row.join(' ')).toSorted();
    expect(inOrder(ours)).toEqual(inOrder(figures));
  });
});
