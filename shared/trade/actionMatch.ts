/**
 * Does the controller's action, with the normal position of what it moves, drive the room the right way?
 * k = a v is the sign of d(open)/dT, with a = +1 direct, -1 reverse and v = +1 normally closed, -1 normally
 * open. Heating needs k = -1, cooling k = +1 (arithmetic; the usual textbook rows agree).
 */
import { actionSign } from './proportional.ts';
import type { ControllerAction } from './proportional.ts';
import type { NormalPosition } from './actuators.ts';

export const thermalDuties = ['heating', 'cooling'] as const;
export type ThermalDuty = (typeof thermalDuties)[number];

const HEATING: ReadonlySet<string> = new Set(['hot water', 'steam', 'heating air']);
const COOLING: ReadonlySet<string> = new Set(['chilled water', 'cooling air']);

/** What a device does to a room by what it carries; null where that is neither, or goes by season. */
export function thermalDutyOf(carries: string | null): ThermalDuty | null {
  if (carries === null) return null;
  return HEATING.has(carries) ? 'heating' : COOLING.has(carries) ? 'cooling' : null;
}

/** Sign of the change of opening with room temperature. */
export function openingSign(action: ControllerAction, normal: NormalPosition): 1 | -1 {
  const normalSign = normal === 'closed' ? 1 : -1;
  return (actionSign(action) * normalSign) as 1 | -1;
}

/** True when a warm room closes heating, or opens cooling. */
export function actionMatchesDuty(
  action: ControllerAction,
  normal: NormalPosition,
  duty: ThermalDuty,
): boolean {
  return openingSign(action, normal) === (duty === 'heating' ? -1 : 1);
}

/** The action that a device needs for a duty; for a changeover coil ask once per season. */
export function neededAction(normal: NormalPosition, duty: ThermalDuty): ControllerAction {
  return actionMatchesDuty('direct', normal, duty) ? 'direct' : 'reverse';
}

/** What flows on loss of control air. */
export function flowOnAirLoss(normal: NormalPosition): 'full flow' | 'no flow' {
  return normal === 'open' ? 'full flow' : 'no flow';
}
