/** What the errors of one zone cost: its switchover, its night, its day, each alone and in order; and cooling beside it. */
import type { EnergyAmounts, EnergyEntry } from '../../shared/contract/energy.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { bandOf } from '../../shared/energy/band.ts';
import type { Band } from '../../shared/energy/band.ts';
import { driftByMonth } from '../../shared/energy/driftByMonth.ts';
import type { VisitError } from '../../shared/energy/driftByMonth.ts';
import { fuelOfHours } from '../../shared/energy/heating.ts';
import { hoursOff } from '../../shared/energy/setback.ts';
import { allYear, asIntended, heatOf, savedBySteps } from '../../shared/energy/zone.ts';
import type { Heat, ZoneState } from '../../shared/energy/zone.ts';
import { amountsOf } from './amounts.ts';
import { dayPoint } from './zones.ts';
import type { EnergyFacts, Period, PointState, ZoneFacts } from './zones.ts';

/** A share of metered cooling by one degF (air-energy reference 4.1 and 4.7, from memory). */
const COOLING_SHARE = { low: 0.03, high: 0.06 };
const HOURS_A_WEEK = 168;
const HOURS_A_YEAR = 8760;

export type Weighed = {
  kind: Extract<EnergyEntry['kind'], 'switchover' | 'night setpoint' | 'day setpoint' | 'cooling setpoint'>;
  point: PointState | null;
  words: string;
  alone: EnergyAmounts;
  inOrder: EnergyAmounts;
  period: EnergyEntry['period'];
  method: string;
  base: string;
  confidence: EnergyEntry['confidence'];
};

/** Errors of a period by calendar month, and on how many of its days they are known. A month that is there twice counts with all its days. */
export function errorsOfPeriod(
  visits: readonly VisitError[],
  period: Period,
): { errors: number[]; knownDays: number } {
  const sums = Array.from({ length: 12 }, () => ({ sum: 0, days: 0 }));
  let knownDays = 0;
  for (const { month, days, known, mean } of driftByMonth(visits, period)) {
    const own = sums[Number(month.slice(5)) - 1];
    own.days += days;
    own.sum += (mean ?? 0) * known;
    knownDays += known;
  }
  return { errors: sums.map(({ sum, days }) => (days === 0 ? 0 : sum / days)), knownDays };
}

const bandOfHeat = ({ full, deep }: Heat): Band => bandOf(full, deep);

function baseWords({ zone, isGainKnown, isWeekKnown, k, efficiency, building }: ZoneFacts): string {
  const balance = (zone.dayDegF - zone.gainDegF).toFixed(1);
  return [
    `balance point ${balance} °F${isGainKnown ? '' : ' (usual gains)'}`,
    k === null
      ? 'no loss known'
      : `K ${Math.round(k)} Btu/(h·°F) by its share of ${building ?? 'the building'}`,
    ...(efficiency === null ? [] : [`efficiency ${efficiency}`]),
    ...(zone.nightDegF === null
      ? []
      : [
          `${hoursOff(zone.week)} h a week unoccupied${isWeekKnown ? '' : ' (usual week)'}, time constant ${zone.tau} h`,
        ]),
  ].join('; ');
}

function isWorthWhile(point: PointState | undefined): point is PointState & { nowDegF: number } {
  return point?.nowDegF != null && Math.abs(point.nowDegF) > point.toleranceDegF / 2;
}

const signed = (degF: number): string => `${degF > 0 ? '+' : '−'}${Math.abs(degF).toFixed(1)} °F`;

/** Of a year with this error: cooling saved by a warmer room, kWh; negative kWh are saved. */
function coolingOf(zone: ZoneFacts, degF: number, share: number): Band | null {
  if (zone.coolingKwh === null) return null;
  const by = (rate: number): number => -degF * rate * (zone.coolingKwh ?? 0) * share;
  return bandOf(by(COOLING_SHARE.low), by(COOLING_SHARE.high));
}

/** Without weather: error times the hours in which the setpoint rules. */
function byHours(zone: ZoneFacts, period: Period): Weighed[] {
  const off = hoursOff(zone.zone.week) / HOURS_A_WEEK;
  const hasNight = zone.zone.nightDegF !== null;
  return [...zone.points.values()].filter(isWorthWhile).map((point): Weighed => {
    const share = !hasNight ? 1 : point.role === 'unoccupied' ? off : 1 - off;
    // A cooling setpoint that stands high saves its cold: putting it right costs.
    const sign = point.role === 'cooling' ? -1 : 1;
    const hours = sign * point.nowDegF * HOURS_A_YEAR * share;
    const { errors, knownDays } = errorsOfPeriod(point.visits, period);
    const amounts: EnergyAmounts = { degreeHours: bandOf(hours), therms: null, kwh: null, money: null };
    return {
      kind: kindOf(point.role),
      point,
      words: wordsOf(point),
      alone: amounts,
      inOrder: amounts,
      period: {
        degreeHours: sign * (errors.reduce((sum, one) => sum + one, 0) / 12) * HOURS_A_YEAR * share,
        therms: null,
        knownDays,
      },
      method: 'error times hours; no weather',
      base: `${Math.round(HOURS_A_YEAR * share)} h a year`,
      confidence: 'low',
    };
  });
}

function kindOf(role: string): Weighed['kind'] {
  return role === 'unoccupied' ? 'night setpoint' : role === 'cooling' ? 'cooling setpoint' : 'day setpoint';
}

function wordsOf(point: PointState & { nowDegF: number }): string {
  return `Stands ${signed(point.nowDegF)} off ${point.dialDegF.toFixed(1)} °F${point.isTrended ? ', by its trend' : ', as left last'}.`;
}

/** The parts of a zone that are worth a line. `isSwitching` false: its night is never reached. */
export function weighZone(
  zone: ZoneFacts,
  facts: EnergyFacts,
  { isSwitching, from, to }: { isSwitching: boolean; from: PlainDate; to: PlainDate },
): Weighed[] {
  const { climate, settings } = facts;
  if (climate === null) return byHours(zone, { from, to });
  const day = dayPoint(zone.points);
  const night = zone.points.get('unoccupied');
  const cooling = zone.points.get('cooling');
  const weighed: Weighed[] = [];
  const base = baseWords(zone);
  const confidence = zone.k === null || zone.efficiency === null ? ('low' as const) : ('medium' as const);
  const amounts = (hours: Band | null, kwh: Band | null = null): EnergyAmounts =>
    amountsOf({ hours, kwh }, zone, settings);
  const off = zone.zone.nightDegF === null ? 0 : hoursOff(zone.zone.week) / HOURS_A_WEEK;
  if (day) {
    const balance = zone.zone.dayDegF - zone.zone.gainDegF;
    const days = `degree days: ${climate.methodAt(balance, 'heating')}`;
    const found: ZoneState = {
      day: allYear(day.nowDegF ?? 0),
      night: allYear(night?.nowDegF ?? 0),
      isSwitching,
    };
    const steps = savedBySteps(zone.zone, found, climate);
    const intended = heatOf(zone.zone, asIntended, climate);
    const ofPeriod = (point: PointState, by: 'day' | 'night'): EnergyEntry['period'] => {
      const { errors, knownDays } = errorsOfPeriod(point.visits, { from, to });
      const heat = bandOfHeat(heatOf(zone.zone, { ...asIntended, [by]: errors }, climate)).central;
      const degreeHours = heat - bandOfHeat(intended).central;
      return {
        degreeHours,
        therms:
          zone.k === null || zone.efficiency === null
            ? null
            : fuelOfHours(degreeHours, { k: zone.k, efficiency: zone.efficiency }),
        knownDays,
      };
    };
    if (!isSwitching && zone.zone.nightDegF !== null)
      weighed.push({
        kind: 'switchover',
        point: null,
        words: '',
        alone: amounts(bandOfHeat(steps.switchover.alone)),
        inOrder: amounts(bandOfHeat(steps.switchover.inOrder)),
        period: null,
        method: `setback lost, one node; ${days}`,
        base,
        confidence,
      });
    if (isWorthWhile(night))
      weighed.push({
        kind: 'night setpoint',
        point: night,
        words: wordsOf(night),
        alone: amounts(bandOfHeat(steps.night.alone)),
        inOrder: amounts(bandOfHeat(steps.night.inOrder)),
        period: ofPeriod(night, 'night'),
        method: 'setback by one node',
        base,
        confidence,
      });
    if (isWorthWhile(day)) {
      const credit = day.role === 'heating' ? null : coolingOf(zone, day.nowDegF, 1 - off);
      weighed.push({
        kind: 'day setpoint',
        point: day,
        words: wordsOf(day),
        alone: amounts(bandOfHeat(steps.day.alone), credit),
        inOrder: amounts(bandOfHeat(steps.day.inOrder), credit),
        period: ofPeriod(day, 'day'),
        method: `${days}${credit ? '; cooling by 3 to 6 % a °F' : ''}`,
        base: day.role === 'heating' || credit ? base : `${base}; heating only`,
        confidence,
      });
    }
  }
  if (isWorthWhile(cooling)) {
    const kwh = coolingOf(zone, cooling.nowDegF, 1);
    const balance = cooling.dialDegF - zone.zone.gainDegF;
    // Degree-hours of cooling that a cooler setpoint asks for: the other way round than heating.
    const hours = climate.means.reduce(
      (sum, _, month) =>
        sum +
        24 *
          (climate.degreeDays(month, balance + cooling.nowDegF, 'cooling') -
            climate.degreeDays(month, balance, 'cooling')),
      0,
    );
    const own: EnergyAmounts = {
      degreeHours: bandOf(hours),
      therms: null,
      kwh,
      money:
        kwh === null || settings.electricityPricePerKwh === null
          ? null
          : amountsOf({ hours: null, kwh }, zone, settings).money,
    };
    weighed.push({
      kind: 'cooling setpoint',
      point: cooling,
      words: wordsOf(cooling),
      alone: own,
      inOrder: own,
      period: null,
      method: `${kwh === null ? 'degree days of cooling' : 'cooling by 3 to 6 % a °F'}; ${climate.methodAt(balance, 'cooling')}`,
      base:
        kwh === null
          ? 'no metered cooling'
          : `${Math.round(zone.coolingKwh ?? 0)} kWh a year by its share of the meter`,
      confidence: 'low',
    });
  }
  return weighed;
}
