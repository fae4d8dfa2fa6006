/**
 * Older errors told on the basis of the newest one. A setpoint's error is the temperature at which its calibration pressure
 * is delivered, less the dial; where that pressure or the gain was changed between two visits, the older reading is
 * re-expressed before the two are compared: e' = e + a (P' - P)/G for another pressure; for another gain by what was read,
 * where the method lets it follow from the error alone. Where it does not, a new series begins.
 */
import { actionSign } from '../trade/proportional.ts';
import type { ControllerAction } from '../trade/proportional.ts';

/** What an error of a setpoint refers to, in thousandths of the device's units. */
export type Basis = {
  calibrationPressureMilli: number;
  throttlingRangeMilli: number;
  outputLowMilli: number;
  outputHighMilli: number;
  action: ControllerAction;
};

/** Pressure a degree. */
function gainOf({ outputHighMilli, outputLowMilli, throttlingRangeMilli }: Basis): number {
  return (outputHighMilli - outputLowMilli) / throttlingRangeMilli;
}

/** True where both say the same. */
export function isSameBasis(a: Basis | null, b: Basis | null): boolean {
  if (a === null || b === null) return a === b;
  return (
    a.calibrationPressureMilli === b.calibrationPressureMilli &&
    a.action === b.action &&
    gainOf(a) === gainOf(b)
  );
}

/**
 * An error, in thousandths of a degree, on another basis; null where that cannot be told. By the dial method (M1) and with
 * the dial at the room (M3) a change of gain can be followed; otherwise only a change of the calibration pressure can.
 */
export function errorOnBasis(
  errorMilli: number,
  method: string | null,
  from: Basis | null,
  to: Basis | null,
): number | null {
  if (isSameBasis(from, to)) return errorMilli;
  if (from === null || to === null || from.action !== to.action) return null;
  const sign = actionSign(to.action);
  const shift = sign * (to.calibrationPressureMilli - from.calibrationPressureMilli);
  const [before, after] = [gainOf(from), gainOf(to)];
  if (!(before > 0) || !(after > 0)) return null;
  if (before === after || method === 'M1') return Math.round(errorMilli + shift / after);
  return method === 'M3' ? Math.round((errorMilli * before + shift) / after) : null;
}
