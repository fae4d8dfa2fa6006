/**
 * Doubt, conformance and decision risk.
 *
 * Risk table: decision_risk_reference.csv, computed outside this project (Python, quadrature; three rows checked
 * again with another library). Conformance examples: JCGM 106:2012, numbers from memory, values recomputed.
 * Budget example: computed outside this project. H.1: JCGM 100:2008, annex H.1.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { conformance, posterior } from '../../shared/stats/conformance.ts';
import { observedInside, riskOf, spreadOf } from '../../shared/stats/decisionRisk.ts';
import { normalQuantile } from '../../shared/stats/dist/normal.ts';
import { tQuantile } from '../../shared/stats/dist/studentT.ts';
import {
  adequacyOf,
  combined,
  decisionRules,
  errorLimitOf,
  guardBand,
  ofCertificate,
  ofLimit,
  setpointDoubt,
  uncertaintyRatio,
  limitsOf,
  verdictInDoubt,
} from '../../shared/trade/doubt.ts';

const table = readFileSync(new URL('data/decision_risk_reference.csv', import.meta.url), 'utf8')
  .split(/\r?\n/u)
  .filter((line) => /^\d/u.test(line))
  .map((line) => line.split(',').map(Number));

describe('risks over all devices', () => {
  it('the table has its 21 rows', () => expect(table.length).toBe(21));
  it.each(table)(
    'true share %d, ratio %d',
    (share, ratio, falseAccept, falseReject, acceptance, acceptBand, rejectBand, observed) => {
      const u = 1 / ratio / 2;
      const spread = spreadOf(1, share);
      const plain = riskOf({ limit: 1, acceptance: 1, spread, u });
      expect(plain.falseAccept).toBeCloseTo(falseAccept, 7);
      expect(plain.falseReject).toBeCloseTo(falseReject, 7);
      const limit = 1 - guardBand('guard band by ratio', 1, 2 * u);
      expect(limit).toBeCloseTo(acceptance, 6);
      const banded = riskOf({ limit: 1, acceptance: limit, spread, u });
      expect(banded.falseAccept).toBeCloseTo(acceptBand, 6);
      expect(banded.falseReject).toBeCloseTo(rejectBand, 6);
      expect(observedInside({ acceptance: 1, spread, u })).toBeCloseTo(observed, 6);
    },
  );
  it('84, 85: shares of 95 % at ratios 4, 1 and 2', () => {
    const at = (ratio: number) =>
      riskOf({ limit: 1, acceptance: 1, spread: spreadOf(1, 0.95), u: 1 / ratio / 2 });
    expect(at(4).falseAccept).toBeCloseTo(0.0085826648, 9);
    expect(at(4).falseReject).toBeCloseTo(0.015536513, 9);
    expect(at(1).falseAccept).toBeCloseTo(0.0180115552, 9);
    expect(at(1).falseReject).toBeCloseTo(0.1295715807, 9);
    expect(at(2).falseAccept).toBeCloseTo(0.0133734083, 9);
    expect(at(2).falseReject).toBeCloseTo(0.0417752958, 9);
  });
  it('87: a resistor of 0.2 with prior 0.12 and reading 0.04', () => {
    const plain = riskOf({ limit: 0.2, acceptance: 0.2, spread: 0.12, u: 0.04 });
    expect(plain.falseAccept).toBeCloseTo(0.0189422067, 9);
    expect(plain.falseReject).toBeCloseTo(0.0372078002, 9);
    const banded = riskOf({ limit: 0.2, acceptance: 0.12, spread: 0.12, u: 0.04 });
    expect(banded.falseAccept).toBeCloseTo(0.000469, 6);
    expect(banded.falseReject).toBeCloseTo(0.24767, 6);
  });
});

describe('the probability of conformance', () => {
  it('82: breakdown voltage, motor oil, burst strength', () => {
    expect(conformance({ value: -5.47, u: 0.05 }, { high: -5.4 })).toBeCloseTo(0.9192433, 7);
    expect(conformance({ value: 13.6, u: 1.8 }, { low: 12.5, high: 16.3 })).toBeCloseTo(0.6626298, 7);
    expect(conformance({ value: 509.7, u: 8.6 }, { low: 490 })).toBeCloseTo(0.9890095, 7);
  });
  it('83: the speed from which 99.9 % are above the limit', () =>
    expect(100 / (1 - 0.02 * normalQuantile(0.999))).toBeCloseTo(106.5876, 4));
  it('90: an error of 1.8 within 2', () => {
    const limits = { low: -2, high: 2 };
    const u = 0.4215858948;
    expect(conformance({ value: 1.8, u }, limits)).toBeCloseTo(0.6823923588, 9);
    expect(conformance({ value: 1.2, u }, limits)).toBeCloseTo(0.97113, 5);
    expect(conformance({ value: 1.3066, u }, limits)).toBeCloseTo(0.95, 4);
    expect(conformance({ value: 2, u: 0 }, limits)).toBe(1);
    expect(conformance({ value: 2.1, u: 0 }, limits)).toBe(0);
  });
  it('far beyond a limit it is small and not nothing', () =>
    expect(conformance({ value: -10, u: 1 }, { low: 0, high: 4 })).toBeGreaterThan(0));
  it('91: with what was known before', () => {
    const after = posterior({ value: 0, u: 1 }, { value: 1.8, u: 0.3 });
    expect(after.value).toBeCloseTo(1.6513761468, 9);
    expect(after.u).toBeCloseTo(0.2873478856, 9);
    expect(conformance(after, { low: -2, high: 2 })).toBeCloseTo(0.8874822291, 9);
  });
});

const example = {
  thermometer: ofLimit(0.5),
  gauge: ofLimit(errorLimitOf({ form: 'grade', grade: '3A' }, 30)),
  dial: ofLimit(0.5),
  repeat: 0.1,
  repeats: 1,
  gain: 2.5,
  gainDoubt: ofLimit(0.1 * 2.5),
  branchOff: 1.2,
};

describe('the doubt of a setpoint error', () => {
  const doubt = setpointDoubt(example);
  it('88: the budget part by part', () => {
    expect(doubt.u).toBeCloseTo(0.4215858948, 9);
    expect(doubt.expanded).toBeCloseTo(0.8431717895, 9);
    expect(uncertaintyRatio(2, doubt.expanded)).toBeCloseTo(2.3719958671, 9);
    const parts = Object.fromEntries(doubt.contributions.map(({ name, u }) => [name, Number(u.toFixed(6))]));
    expect(parts).toEqual({
      thermometer: 0.288675,
      gauge: 0.017321,
      dial: 0.288675,
      repeats: 0.1,
      gain: 0.027713,
    });
  });
  it('a coarse gauge hardly harms, a better thermometer and dial help', () => {
    const coarse = setpointDoubt({
      ...example,
      gauge: ofLimit(errorLimitOf({ form: 'percent of span', percent: 1 }, 30)),
    });
    expect(coarse.expanded).toBeCloseTo(0.853779, 6);
    const fine = setpointDoubt({ ...example, thermometer: ofLimit(0.2), dial: ofLimit(0.25) });
    expect(fine.expanded).toBeCloseTo(0.425369, 6);
  });
  it('86, 89: acceptance limits for 2 degrees', () => {
    const limits = decisionRules.map((rule) => 2 - guardBand(rule, 2, doubt.expanded));
    expect(limits[0]).toBe(2);
    expect(limits[1]).toBeCloseTo(1.3001674, 7);
    expect(limits[2]).toBeCloseTo(1.1568282, 7);
    expect(limits[3]).toBeCloseTo(1.8053463, 7);
    expect(guardBand('guard band by ratio', 2, 1)).toBeCloseTo(0.28165, 5);
    expect(guardBand('guard band by ratio', 4.6, 1)).toBe(0);
  });
  it('92: the gauge block of H.1', () => {
    const { u } = combined([25, 9.7, 2.9, 16.6].map((one) => ({ name: '', u: one })));
    expect(u).toBeCloseTo(31.671, 3);
    expect(tQuantile(0.995, 16)).toBeCloseTo(2.9207816, 7);
    expect(Math.round(tQuantile(0.995, 16) * 32)).toBe(93);
    expect(ofCertificate(0.3)).toBe(0.15);
  });
});

describe('verdicts in doubt', () => {
  it.each([
    [1.7, '=', 'inside'],
    [-1.8, '=', 'inside'],
    [1.9, '=', 'inside, in doubt'],
    [-2, '=', 'inside, in doubt'],
    [2.1, '=', 'outside, in doubt'],
    [2.3, '=', 'outside'],
    [2.3, '>=', 'outside'],
    [2.1, '>=', 'outside, in doubt'],
    [1.5, '>=', 'unknown'],
    [-2.5, '>=', 'unknown'],
    [-2.5, '<=', 'outside'],
  ] as const)('%d %s is %s', (error, relation, verdict) =>
    expect(verdictInDoubt({ error, relation }, limitsOf(2), 0.2)).toBe(verdict),
  );
  it('without a band nothing is in doubt', () =>
    expect(verdictInDoubt({ error: 2, relation: '=' }, limitsOf(2), 0)).toBe('inside'));
});

describe('whether an instrument is good enough', () => {
  it('four times as good, twice as good, worse', () => {
    expect(adequacyOf(1, 0.25)).toBe('good');
    expect(adequacyOf(1, 0.5)).toBe('coarse');
    expect(adequacyOf(1, 0.51)).toBe('too coarse');
  });
  it('a 0-30 psi gauge of grade B is too coarse for half a psi', () =>
    expect(adequacyOf(0.5, errorLimitOf({ form: 'grade', grade: 'B' }, 30))).toBe('too coarse'));
  it('an unknown grade is refused', () =>
    expect(() => errorLimitOf({ form: 'grade', grade: 'Z' }, 30)).toThrow('no grade Z'));
});
