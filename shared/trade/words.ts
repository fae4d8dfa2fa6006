/** The closed lists of the record, in the words that screens, files and commands share. */

export const deviceClasses = [
  'air_station',
  'regulator',
  'switchover_relay',
  'time_switch',
  'main',
  'controller',
  'transmitter',
  'actuator',
] as const;
export type DeviceClass = (typeof deviceClasses)[number];

/** The classes among some words, in the order of the list; a book may hold words from when anything could be typed. */
export function classesAmong(words: readonly string[]): DeviceClass[] {
  return deviceClasses.filter((one) => words.includes(one));
}

export const deviceClassLabels: Record<DeviceClass, string> = {
  air_station: 'air station',
  regulator: 'regulator',
  switchover_relay: 'switchover relay',
  time_switch: 'time switch',
  main: 'main',
  controller: 'controller',
  transmitter: 'transmitter',
  actuator: 'actuator',
};

export const setpointRoles = ['only', 'occupied', 'unoccupied', 'heating', 'cooling'] as const;

export const testPointKinds = [
  'setpoint',
  'regulator low',
  'regulator high',
  'main low',
  'main high',
  'spring start',
  'spring end',
  'transmitter zero',
  'transmitter span',
  'relay switching',
  'clock',
  'dew point',
] as const;
export type TestPointKind = (typeof testPointKinds)[number];

export const outcomes = [
  'held',
  'adjusted',
  'device failed',
  'supply not right',
  'no access',
  'unsafe',
  'not tested',
] as const;
export type Outcome = (typeof outcomes)[number];

/** Outcomes that complete a calibration and so move the due date. */
export const completingOutcomes: readonly Outcome[] = ['held', 'adjusted'];

/** Outcomes that open a follow-up: something a recalibration did not mend. */
export const followUpOutcomes: readonly Outcome[] = ['device failed', 'supply not right', 'unsafe'];

/** Version of the formulas behind records that no card made: files and the sample's past. Cards have their own. */
export const METHOD_VERSION = 'setpoint-error 1';
