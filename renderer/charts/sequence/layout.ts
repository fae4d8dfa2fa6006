/**
 * Geometry of a branch with its actuators: spring ranges as bars on the axis of the branch pressure, nominal and measured,
 * and above it the room temperature, as a difference from the dial, at which the controller gives that pressure.
 */
import { scaleLinear } from 'd3-scale';
import type { BranchView } from '../../../shared/contract/air.ts';
import { actionSign } from '../../../shared/trade/proportional.ts';

export type SequenceBar = {
  key: string;
  tag: string;
  duty: string;
  /** Top of its row. */
  y: number;
  nominal: { x: number; width: number };
  /** Null where nothing was measured. */
  measured: { x: number; width: number } | null;
  words: string;
};

export type SequenceLayout = {
  bars: SequenceBar[];
  pressureTicks: { value: number; x: number }[];
  degreeTicks: { value: number; x: number }[];
  /** Where the controller is calibrated to; null where that is not known. */
  calibration: number | null;
  /** Pressures of the main by air state. */
  mains: { label: string; x: number }[];
  axis: { left: number; right: number; top: number; bottom: number };
};

const ROW = 42;
const MARGIN = { left: 216, right: 24, top: 44, bottom: 34 };

export function heightOf(branch: BranchView): number {
  return MARGIN.top + MARGIN.bottom + ROW * Math.max(1, branch.actuators.length);
}

/** Lays a branch out for one of its setpoints. Pressures in psi. */
export function layoutSequence(branch: BranchView, role: string, width: number): SequenceLayout {
  const axis = {
    left: MARGIN.left,
    right: width - MARGIN.right,
    top: MARGIN.top,
    bottom: MARGIN.top + ROW * Math.max(1, branch.actuators.length),
  };
  const ends = branch.actuators.flatMap(({ start, end }) =>
    [start, end].flatMap(({ nominal, measured }) => [nominal, ...(measured ? [measured.value] : [])]),
  );
  const mainPressures = [branch.mainLow, branch.mainHigh].filter((one) => one !== null);
  const x = scaleLinear([0, Math.ceil(Math.max(15, ...ends, ...mainPressures) + 1)], [axis.left, axis.right]);
  const setpoint = branch.setpoints.find((one) => one.role === role);
  const sign = setpoint ? actionSign(setpoint.action) : 1;
  const calibration = setpoint?.calibrationPressure ?? null;
  const degreesAt = (pressure: number): number =>
    setpoint && calibration !== null ? (sign * (pressure - calibration)) / setpoint.gain : 0;
  const [coldest, warmest] = [degreesAt(x.domain()[0]), degreesAt(x.domain()[1])];
  const degrees = scaleLinear([coldest, warmest], [axis.left, axis.right]);
  const text = (value: number): string => String(Number(value.toFixed(2)));
  return {
    bars: branch.actuators.map(({ tag, duty, normal, start, end }, index): SequenceBar => {
      const isMeasured = start.measured !== null && end.measured !== null;
      const [from, to] = [start.measured?.value ?? start.nominal, end.measured?.value ?? end.nominal];
      return {
        key: tag,
        tag,
        duty: `${duty ?? 'carries: not noted'}, normally ${normal}`,
        y: axis.top + index * ROW,
        nominal: { x: x(start.nominal), width: x(end.nominal) - x(start.nominal) },
        measured: isMeasured ? { x: x(from), width: Math.max(1, x(to) - x(from)) } : null,
        words: `${tag}: nominal ${text(start.nominal)} to ${text(end.nominal)} psi${isMeasured ? `, measured ${text(from)} to ${text(to)} psi` : ', not measured'}`,
      };
    }),
    pressureTicks: x.ticks(10).map((value) => ({ value, x: x(value) })),
    degreeTicks: calibration === null ? [] : degrees.ticks(9).map((value) => ({ value, x: degrees(value) })),
    calibration: calibration === null ? null : x(calibration),
    mains: [
      ...(branch.mainLow === null
        ? []
        : [{ label: branch.mainHigh === null ? 'main' : 'low main', x: x(branch.mainLow) }]),
      ...(branch.mainHigh === null ? [] : [{ label: 'high main', x: x(branch.mainHigh) }]),
    ],
    axis,
  };
}
