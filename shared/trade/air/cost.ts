/**
 * What compressed air takes in power and money (air-energy reference, 1.5 and 1.6; published examples in the tests). Control
 * air's leaks are small in money: their price is long run time, wet air and mains that are too low.
 */

const HOURS_A_YEAR = 8760;
/** Power of small control-air machines, kW per scfm; entered figures stand before it. */
export const TYPICAL_KW_PER_SCFM = 0.25;

/** Energy of a flow, kWh: scfm, kW per scfm, hours. */
export function energyOfFlow(
  scfm: number,
  kwPerScfm: number = TYPICAL_KW_PER_SCFM,
  hours: number = HOURS_A_YEAR,
): number {
  return scfm * kwPerScfm * hours;
}

/** Energy of a machine that runs a share of the time, kWh a year. */
export function energyOfRunning(kw: number, share: number, hours: number = HOURS_A_YEAR): number {
  return kw * share * hours;
}

/** Volume of a flow over some minutes, ft3. */
export function volumeOfFlow(scfm: number, minutes: number): number {
  return scfm * minutes;
}

/** Power per flow, kW per 100 cfm, of a machine by its flow per horsepower and its motor's efficiency. */
export function specificPower(cfmPerHorsepower: number, efficiency: number): number {
  return (0.746 / (efficiency * cfmPerHorsepower)) * 100;
}
