/**
 * What a lower setpoint at night saves, one node: a building that stops to heat falls toward T_eq = outdoors plus gains over
 * K, with time constant tau. Temperatures degF, times hours, areas degF.h. Worked out; the usual rules of thumb (1 % per degF
 * and 8 h) lie within a tenth of it.
 */

export type Night = { dayDegF: number; nightDegF: number; balanceDegF: number; tau: number };

/** Hours until the night setpoint is reached; infinite where it never is. */
export function hoursToReach({ dayDegF, nightDegF, balanceDegF, tau }: Night): number {
  return balanceDegF >= nightDegF
    ? Number.POSITIVE_INFINITY
    : -tau * Math.log((nightDegF - balanceDegF) / (dayDegF - balanceDegF));
}

/** degF.h below the day's setpoint over an off-period of some hours; nothing where it is warm enough outside. */
export function deficitArea(night: Night, hours: number): number {
  const { dayDegF, nightDegF, balanceDegF, tau } = night;
  if (!(tau > 0) || !(hours >= 0))
    throw new RangeError('a time constant above zero, and hours of zero and more');
  const amplitude = dayDegF - balanceDegF;
  const depth = dayDegF - nightDegF;
  if (amplitude <= 0 || depth <= 0) return 0;
  const falling = (h: number): number => amplitude * (h - tau * (1 - Math.exp(-h / tau)));
  const reached = hoursToReach(night);
  return reached >= hours ? falling(hours) : falling(reached) + depth * (hours - reached);
}

/** Off-periods of one week: so many of so many hours. */
export type WeekOff = readonly { count: number; hours: number }[];

/** Hours of a week that are off. */
export function hoursOff(week: WeekOff): number {
  return week.reduce((sum, { count, hours }) => sum + count * hours, 0);
}

/** degF.h that a month's nights save below the day's setpoint. */
export function monthArea(night: Night, days: number, week: WeekOff): number {
  return (days / 7) * week.reduce((sum, { count, hours }) => sum + count * deficitArea(night, hours), 0);
}
