/**
 * One zone with all its errors at once: the worked wing of the air-energy reference (4.4 and 4.5, worked out there), and
 * that what is mended in order adds up.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { bandOf, bandText, sumOf, widened } from '../../shared/energy/band.ts';
import { fuelOfHours } from '../../shared/energy/heating.ts';
import { publicNormals } from '../../shared/energy/normals.ts';
import { climateOf, yearOf } from '../../shared/energy/weather.ts';
import type { Weather } from '../../shared/energy/weather.ts';
import { allYear, asIntended, heatOf, offPeriods, savedBySteps } from '../../shared/energy/zone.ts';
import type { Zone } from '../../shared/energy/zone.ts';
import { rowsOf } from '../support/publishedTables.ts';

const chicago = publicNormals.find(({ id }) => id === 'USW00094846 1981-2010') as Weather;
const palmer = publicNormals.find(({ id }) => id === 'USC00456295 1981-2010') as Weather;
const climate = climateOf(chicago);
const wing: Zone = {
  dayDegF: 70,
  nightDegF: 60,
  gainDegF: 12,
  nightGainDegF: 3,
  tau: 32,
  week: [
    { count: 4, hours: 12 },
    { count: 1, hours: 60 },
  ],
};
const therms = (hours: number): number => fuelOfHours(hours, { k: 3_000, efficiency: 0.8 });
const state = (day: number, night: number, isSwitching: boolean) => ({
  day: allYear(day),
  night: allYear(night),
  isSwitching,
});

describe('the wing of the reference', () => {
  it('loses 859 therms of the season while its switchover is stuck, 664 by the months that are heated all day', () => {
    const { switchover } = savedBySteps(wing, state(0, 0, false), climate);
    expect(Math.abs(therms(switchover.alone.full) - 859.3)).toBeLessThan(0.5);
    expect(Math.abs(therms(switchover.alone.deep) - 664)).toBeLessThan(1);
  });
  it('loses 341 therms to a night setpoint of 65, and 511 to a day setpoint that stands 2.5 °F too high', () => {
    const { night } = savedBySteps(wing, state(0, 5, true), climate);
    expect(Math.abs(therms(night.alone.full) - 341.4)).toBeLessThan(0.5);
    const single = { ...wing, nightDegF: null };
    const { day } = savedBySteps(single, state(2.5, 0, true), climate);
    expect(Math.abs(therms(day.alone.full) - 511.4)).toBeLessThan(0.5);
    expect(day.alone).toEqual(day.inOrder);
  });
  it('counts a wrong night for nothing while it is never reached, and once it is, only then', () => {
    const steps = savedBySteps(wing, state(0, 5, false), climate);
    // Mended alone, the switchover saves what a right night would; before the night is mended, less.
    expect(therms(steps.switchover.inOrder.full)).toBeCloseTo(
      therms(steps.switchover.alone.full) - therms(steps.night.alone.full),
      6,
    );
    expect(steps.night.inOrder.full).toBeCloseTo(steps.night.alone.full, 6);
  });
});

describe('what is mended in order', () => {
  const error = fc.integer({ min: -60, max: 60 }).map((tenths) => tenths / 10);
  it('adds up to the whole, for any errors', () => {
    fc.assert(
      fc.property(error, error, fc.boolean(), (day, night, isSwitching) => {
        const found = state(day, night, isSwitching);
        const steps = savedBySteps(wing, found, climate);
        const [asFound, intended] = [heatOf(wing, found, climate), heatOf(wing, asIntended, climate)];
        for (const key of ['full', 'deep'] as const) {
          const sum = steps.switchover.inOrder[key] + steps.night.inOrder[key] + steps.day.inOrder[key];
          expect(sum).toBeCloseTo(asFound[key] - intended[key], 6);
        }
      }),
    );
  });
  it('never asks for less than no heat', () => {
    fc.assert(
      fc.property(error, error, (day, night) => {
        const { full, deep } = heatOf({ ...wing, gainDegF: 40 }, state(day, night, true), climate);
        return full >= 0 && deep >= 0;
      }),
    );
  });
});

describe('the weather', () => {
  it('is taken by days where they are known, by bases between them, else by monthly means', () => {
    const daily = Array.from({ length: 365 }, (_, day) => ({
      on: new Date(Date.UTC(2025, 0, 1 + day)).toISOString().slice(0, 10),
      degF: 40,
    }));
    const byDays = climateOf({ ...palmer, daily });
    expect(byDays.methodAt(60, 'heating')).toBe('daily temperatures');
    expect(yearOf(byDays, 60, 'heating')).toBeCloseTo(365 * 20, 6);
    const byBases = climateOf(palmer);
    expect([byBases.methodAt(58, 'heating'), byBases.methodAt(70, 'heating')]).toEqual([
      'normals at several bases',
      'monthly means (Erbs)',
    ]);
    // Printed normals at 55 and 57 (NOAA NCEI, seen); 56 lies half way between them.
    expect(yearOf(byBases, 56, 'heating')).toBeCloseTo((2710 + 3214) / 2, 6);
    expect(climate.methodAt(58, 'heating')).toBe('monthly means (Erbs)');
    // A month with too few days says nothing, and what else is known serves.
    expect(climateOf({ ...palmer, daily: daily.slice(0, 300) }).methodAt(58, 'heating')).toBe(
      'normals at several bases',
    );
    expect(() => climateOf({ ...palmer, means: [], bases: [] })).toThrow(RangeError);
  });
  it('that comes with the program is that of the published tables', () => {
    const monthly = rowsOf('energy-normals-monthly.csv');
    for (const { id, means } of publicNormals)
      expect(
        monthly
          .filter(([station, , period]) => `${station} ${period}` === id)
          .map(([, , , , , degF]) => Number(degF)),
        id,
      ).toEqual(means);
    for (const [station, , period, month, kind, base, value] of rowsOf('energy-normals-multibase.csv')) {
      const own = publicNormals.find(({ id }) => id === `${station} ${period}`);
      const season = kind === 'HDD' ? 'heating' : 'cooling';
      const found = own?.bases.find((one) => one.season === season && one.base === Number(base));
      expect(found?.months[Number(month) - 1]).toBe(Number(value));
    }
  });
});

describe('the hours of a week in which nobody is there', () => {
  const week = (isOff: (day: number, hour: number) => boolean): boolean[] =>
    Array.from({ length: 336 }, (_, half) => isOff(Math.floor(half / 48), (half % 48) / 2));
  it('become off-periods, one over the end of the week among them', () => {
    expect(offPeriods(week((day, hour) => day >= 5 || hour < 6 || hour >= 18))).toEqual([
      { count: 4, hours: 12 },
      { count: 1, hours: 60 },
    ]);
    expect(offPeriods(week(() => false))).toEqual([]);
    expect(offPeriods(week(() => true))).toEqual([{ count: 1, hours: 168 }]);
  });
});

describe('a band', () => {
  it('widens by what a loss is known to, on both sides of nothing, and is written to two digits', () => {
    expect(widened(bandOf(10, 20), 1)).toEqual({ low: 7, central: 15, high: 26 });
    expect(widened(bandOf(-10, 20), 1)).toEqual({ low: -13, central: 5, high: 26 });
    expect(sumOf([])).toEqual({ low: 0, central: 0, high: 0 });
    expect([bandText(null), bandText(bandOf(1234), '$'), bandText(bandOf(-1, 2), '$')]).toEqual([
      '–',
      '$1200',
      '$0.5 (−$1 to $2)',
    ]);
  });
});
