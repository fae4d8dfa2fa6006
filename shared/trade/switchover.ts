/**
 * Switchover between two main pressures: which air state an arrangement of relay ports gives, and how far
 * the mains are from the pressures at which controllers change over. Common practice in this trade; the
 * rules are written out in docs and checked against worked cases. Port words are air words: the port named
 * `no` passes air when the coil has no current.
 */

export const airStates = ['low', 'high'] as const;
export type AirState = (typeof airStates)[number];

export const portContents = ['supply air', 'exhaust', 'low regulator', 'high regulator'] as const;
export type PortContent = (typeof portContents)[number];
export type RelayPorts = { no: PortContent; nc: PortContent };

export type Arrangement = 'pilot' | 'select';

/**
 * Which arrangement a pair of ports makes: `pilot` (supply air and exhaust: the common port charges or
 * vents the pilot of a two-pressure regulator) or `select` (a low and a high regulator). Null when the two
 * ports contradict each other.
 */
export function relayArrangement(ports: RelayPorts): Arrangement | null {
  const pair = [ports.no, ports.nc].toSorted().join('+');
  if (pair === 'exhaust+supply air') return 'pilot';
  if (pair === 'high regulator+low regulator') return 'select';
  return null;
}

/** Air state of the main for a coil state; null when the ports contradict each other. */
export function airStateOfCoil(ports: RelayPorts, energised: boolean): AirState | null {
  if (relayArrangement(ports) === null) return null;
  const connected = energised ? ports.nc : ports.no;
  return connected === 'supply air' || connected === 'high regulator' ? 'high' : 'low';
}

/** Air state of the main when the power fails: the coil is without current. */
export function airStateOnPowerLoss(ports: RelayPorts): AirState | null {
  return airStateOfCoil(ports, false);
}

/** True when energising the coil in `energisedState` is what the ports really give. */
export function relayAgrees(ports: RelayPorts, energisedState: AirState): boolean {
  return airStateOfCoil(ports, true) === energisedState;
}

export type ChangeoverPressures = {
  /** Falling changeover pressure: below it the controller is in its low setpoint. */
  falling: number;
  /** Rising changeover pressure: above it the controller is in its high setpoint. */
  rising: number;
};

export type SwitchoverMargins = { low: number; high: number; verdict: 'pass' | 'look' | 'fail' };

/** Margin below which a passing changeover deserves a look, in psi. Common practice, no published source. */
export const ADVISED_MARGIN_PSI = 1;

/**
 * Margins of one controller on one main. `lowMain` is the highest reading in the low state, `highMain` the
 * lowest one in the high state (the far end). Both margins must be zero or more; under `advised` it is a look.
 */
export function switchoverMargins(
  trips: ChangeoverPressures,
  lowMain: number,
  highMain: number,
  advised: number,
): SwitchoverMargins {
  const low = trips.falling - lowMain;
  const high = highMain - trips.rising;
  const least = Math.min(low, high);
  return { low, high, verdict: least < 0 ? 'fail' : least < advised ? 'look' : 'pass' };
}

/** The single changeover pressure that stands furthest from both mains: their midpoint. */
export function idealChangeoverPressure(lowMain: number, highMain: number): number {
  return (lowMain + highMain) / 2;
}

export type LiveSetpoint = AirState | 'between';

/**
 * How far the main at a device may stand from the rated figure and still count as in that state, in psi:
 * the usual allowance for a main at the device. Common practice, no published source.
 */
export const MAIN_AT_DEVICE_ALLOWANCE_PSI = 1;

/**
 * Which setpoint of a two-setpoint controller is alive at a main pressure. Measured changeover pressures
 * decide where they are known (below falling: low; above rising: high). Else the rated pair decides, with an
 * allowance: up to `low + allowance` is low, from `high - allowance` is high. In between nothing may be
 * concluded. All pressures in one unit.
 */
export function liveAirState(
  mainPressure: number,
  rated: { low: number; high: number; allowance: number },
  measured?: ChangeoverPressures | null,
): LiveSetpoint {
  if (measured) {
    if (mainPressure < measured.falling) return 'low';
    return mainPressure > measured.rising ? 'high' : 'between';
  }
  if (mainPressure <= rated.low + rated.allowance) return 'low';
  return mainPressure >= rated.high - rated.allowance ? 'high' : 'between';
}
