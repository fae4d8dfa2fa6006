/**
 * Transmitters that send 3 to 15 psi over a temperature span, and the reset of a setpoint by another temperature.
 * Unrounded; temperatures of one call in one unit, pressures in psi. Arithmetic from the signal range.
 */

export type TransmitterSpan = { low: number; high: number };

/** The standard signal, in psi: at the low end of the span, and how much more at the high end. */
const SIGNAL_LOW = 3;
const SIGNAL_RANGE = 12;

function widthOf({ low, high }: TransmitterSpan): number {
  if (!(high > low)) throw new RangeError('a span must end above its start');
  return high - low;
}

/** P = 3 + 12 (T - low)/(high - low), beyond the span too. Throws RangeError for a span without width. */
export function transmittedPressure(temperature: number, span: TransmitterSpan): number {
  return SIGNAL_LOW + (SIGNAL_RANGE * (temperature - span.low)) / widthOf(span);
}

/** T = low + (P - 3)/12 (high - low). Throws RangeError for a span without width. */
export function transmittedTemperature(pressure: number, span: TransmitterSpan): number {
  return span.low + ((pressure - SIGNAL_LOW) / SIGNAL_RANGE) * widthOf(span);
}

/** Degrees for a difference of pressure: without offset. */
export function degreesOfSignal(pressure: number, span: TransmitterSpan): number {
  return (pressure / SIGNAL_RANGE) * widthOf(span);
}

/** Error of a transmitter in degrees: what it sends, read back, less the reference at its element. */
export function transmitterError(
  reading: { reference: number; output: number },
  span: TransmitterSpan,
): number {
  return transmittedTemperature(reading.output, span) - reading.reference;
}

export type ResetSchedule = {
  /** Two points: at this outdoor (or other) temperature this setpoint. */
  from: { at: number; setpoint: number };
  to: { at: number; setpoint: number };
};

/** Setpoint by a reset schedule: on the line between its two points, held beyond either. Throws RangeError when both are at one temperature. */
export function resetSetpoint(outdoor: number, { from, to }: ResetSchedule): number {
  if (from.at === to.at) throw new RangeError('a reset schedule needs two temperatures');
  const share = Math.min(1, Math.max(0, (outdoor - from.at) / (to.at - from.at)));
  return from.setpoint + share * (to.setpoint - from.setpoint);
}

export type GainOfReceiver = { test: number; output: number };

/** Gain of a receiver-controller from two test pressures: change of output by change of input, below zero where the output falls. Throws RangeError when they are the same. */
export function receiverGain(first: GainOfReceiver, second: GainOfReceiver): number {
  if (first.test === second.test)
    throw new RangeError('the test pressure must be moved between the two readings');
  return (second.output - first.output) / (second.test - first.test);
}
