/** Findings of controllers and what they move, and of the points that are read. Bases: pneumatics reference 2.2, 2.5, 3.2, 4, 5.3, 7.3. */
import { addDays } from '../../dates/plainDate.ts';
import type { PlainDate } from '../../dates/plainDate.ts';
import { actionMatchesDuty, thermalDutyOf } from '../../trade/actionMatch.ts';
import type { ThermalDuty } from '../../trade/actionMatch.ts';
import { strokeMargin } from '../../trade/actuators.ts';
import { calibrationPressure, midpoint } from '../../trade/proportional.ts';
import { LEAST_GAP_PSI, gapBetween } from '../../trade/sequencing.ts';
import { ADVISED_MARGIN_PSI, switchoverMargins } from '../../trade/switchover.ts';
import { airStateOfRole } from '../testPoints.ts';
import { psiText } from './finding.ts';
import type { Finding } from './finding.ts';
import { actuatorsOf, bestOf, mainOf, ratedSlack, sequencePairs, springOf } from './network.ts';
import type {
  ActuatorNode,
  AirNetwork,
  ControllerNode,
  NetworkNode,
  PointFacts,
  SetpointFacts,
} from './network.ts';
import { lacking, of } from './supplyRules.ts';

/** A hundredth of a psi: below it two converted figures are the same. */
const SAME_PSI = 0.01;

/** What two readings of a gauge of a tenth may lie apart, psi: a stroke that is short by less is not called so. */
const READ_PSI = 0.25;

function changesOver({ kind }: ControllerNode): boolean {
  return kind === 'two-setpoint' || kind === 'changeover';
}

/** `main-kind`, `main-meaning`. */
export function mainRule(network: AirNetwork, controller: ControllerNode): Finding[] {
  const main = mainOf(network, controller);
  if (main === null || !changesOver(controller)) return [];
  if (main.kind === 'single')
    return [
      of(controller, {
        code: 'main-kind',
        severity: 'stop',
        figures: { controller: controller.kind, main: `${main.tag}, one pressure` },
        words: `A ${controller.kind} controller hangs on ${main.tag}, which has one pressure: it never changes over.`,
        advice: 'See which main feeds it, and correct the feed or the kind of the main.',
      }),
    ];
  if (main.lowMeans === null || main.highMeans === null)
    return [lacking(controller, 'main-meaning', `what the two pressures of ${main.tag} mean`)];
  const strange = controller.setpoints.find(({ role }) => airStateOfRole(role, main) === 'unknown');
  return strange === undefined
    ? []
    : [
        of(controller, {
          code: 'main-meaning',
          severity: 'stop',
          figures: { low: main.lowMeans, high: main.highMeans, role: strange.role },
          words: `Its ${strange.role} setpoint is never asked for: on ${main.tag} low means ${main.lowMeans} and high means ${main.highMeans}.`,
          advice: 'See what the building does with the two pressures, and which controller this is.',
        }),
      ];
}

/** `low-above-rating`, `high-below-rating`, `trip-margin`. */
export function changeoverRule(network: AirNetwork, controller: ControllerNode): Finding[] {
  const main = mainOf(network, controller);
  if (main === null || main.kind === 'single' || !changesOver(controller)) return [];
  const { rated, trips } = controller;
  const low = bestOf(main.low);
  const high = main.high && bestOf(main.high);
  const findings: Finding[] = [];
  if (rated === null) {
    if (trips === null) findings.push(lacking(controller, 'low-above-rating', 'its rated changeover pair'));
  } else {
    if (low.value > rated.low + ratedSlack(main.low) + SAME_PSI)
      findings.push(
        of(controller, {
          code: 'low-above-rating',
          severity: 'stop',
          figures: { [`low main ${main.tag}`]: psiText(low), 'rated low': psiText({ value: rated.low }) },
          words: `The low main ${main.tag} stands at ${psiText(low)}, above its rated ${psiText({ value: rated.low })}: it may not come back to its low setpoint.`,
          advice: 'Set the low pressure to the rated figure or below, or find the pair of the device.',
        }),
      );
    if (main.high && high && high.value < rated.high - ratedSlack(main.high) - SAME_PSI)
      findings.push(
        of(controller, {
          code: 'high-below-rating',
          severity: 'stop',
          figures: { [`high main ${main.tag}`]: psiText(high), 'rated high': psiText({ value: rated.high }) },
          words: `The high main ${main.tag} stands at ${psiText(high)}, below its rated ${psiText({ value: rated.high })}: it may stay in its low setpoint.`,
          advice:
            'Set the high pressure to the rated figure or above at the far end, or find the pair of the device.',
        }),
      );
  }
  if (high === null)
    findings.push(lacking(controller, 'high-below-rating', `the high pressure of ${main.tag}`));
  else if (trips !== null) {
    const margins = switchoverMargins(trips, low.value, high.value, ADVISED_MARGIN_PSI - SAME_PSI);
    if (margins.verdict !== 'pass') {
      const least = Math.min(margins.low, margins.high);
      findings.push(
        of(controller, {
          code: 'trip-margin',
          severity: margins.verdict === 'fail' ? 'stop' : 'look',
          figures: {
            [`low main ${main.tag}`]: psiText(low),
            [`high main ${main.tag}`]: psiText(high),
            'changes, falling': psiText({ value: trips.falling }),
            'changes, rising': psiText({ value: trips.rising }),
          },
          words: `It was measured to change over at ${psiText({ value: trips.falling })} falling and ${psiText({ value: trips.rising })} rising; ${main.tag} leaves it ${Number(least.toFixed(2))} psi of margin.`,
          advice: 'Set the main further from its changeover pressures, or have the device’s changeover set.',
        }),
      );
    }
  }
  return findings;
}

/** `stroke-short`: the main carries the spring to its end in every air state. */
export function strokeRule(network: AirNetwork, actuator: ActuatorNode): Finding[] {
  const main = mainOf(network, actuator);
  if (main === null) return [];
  const end = bestOf(actuator.end);
  const states = [
    ['low', bestOf(main.low)] as const,
    ...(main.high ? [['high', bestOf(main.high)] as const] : []),
  ];
  return states.flatMap(([state, pressure]) =>
    strokeMargin(pressure.value, end.value) >=
    -(pressure.on === null && end.on === null ? SAME_PSI : READ_PSI)
      ? []
      : [
          of(actuator, {
            code: 'stroke-short',
            severity: 'stop',
            about: state,
            figures: { [`${state} main ${main.tag}`]: psiText(pressure), 'spring end': psiText(end) },
            words: `The ${state} pressure of ${main.tag}, ${psiText(pressure)}, does not reach the end of its spring at ${psiText(end)}: it never strokes through.`,
            advice: 'Measure the spring under load; raise the main, or change the spring or its positioner.',
          }),
        ],
  );
}

/** What an actuator does to the room while a setpoint rules; null where that is neither heating nor cooling. */
function dutyIn(actuator: ActuatorNode, setpoint: SetpointFacts): ThermalDuty | null {
  if (actuator.duty !== 'changeover coil') return thermalDutyOf(actuator.duty);
  return setpoint.role === 'heating' || setpoint.role === 'cooling' ? setpoint.role : null;
}

/** `action-mismatch`: a warm room closes heating and opens cooling, in every air state. */
export function actionRule(network: AirNetwork, controller: ControllerNode): Finding[] {
  if (controller.kind === 'humidity') return [];
  return actuatorsOf(network, controller).flatMap((actuator): Finding[] => {
    if (actuator.duty === null) return [lacking(actuator, 'action-mismatch', 'what it carries')];
    return controller.setpoints.flatMap((setpoint): Finding[] => {
      const duty = dutyIn(actuator, setpoint);
      if (duty === null || actionMatchesDuty(setpoint.action, actuator.normal, duty)) return [];
      return [
        of(actuator, {
          code: 'action-mismatch',
          severity: 'stop',
          about: setpoint.role,
          figures: {
            controller: controller.tag,
            action: setpoint.action,
            'normal position': actuator.normal,
            carries: actuator.duty ?? '',
          },
          words: `${controller.tag} acts ${setpoint.action} (${setpoint.role}) on a normally ${actuator.normal} actuator that carries ${actuator.duty}: a warm room gets more ${duty === 'heating' ? 'heat' : 'warmth, as the cooling closes'}.`,
          advice:
            'See the normal position and the action on the wall; correct the register, or have the action or the valve changed.',
        }),
      ];
    });
  });
}

/** `overlap`, `abutting`: heating and cooling of one branch. */
export function sequenceRule(network: AirNetwork, controller: ControllerNode): Finding[] {
  const gain = controller.setpoints[0]?.gain ?? null;
  const unit = controller.setpoints[0]?.unit ?? 'degF';
  const textOf = ({ start, end }: ActuatorNode): string =>
    `${psiText(bestOf(start))} to ${psiText(bestOf(end))}`;
  return sequencePairs(network, controller).flatMap(({ warm, cold }): Finding[] => {
    const [one, other] = [springOf(warm), springOf(cold)];
    const gap = gapBetween(one, other, gain ?? 1);
    if (gap.pressure >= LEAST_GAP_PSI - 1e-9) return [];
    const degrees =
      gain === null || unit === 'percent'
        ? ''
        : ` (${Number(Math.abs(gap.degrees).toFixed(2))} ${unit === 'degC' ? 'K' : '°F'})`;
    const size = `${Number(Math.abs(gap.pressure).toFixed(2))} psi${degrees}`;
    const figures = { [warm.tag]: textOf(warm), [cold.tag]: textOf(cold), gap: size };
    const about = `${warm.tag} ${cold.tag}`;
    const isMeasured = one.isMeasured && other.isMeasured;
    if (gap.pressure < -SAME_PSI)
      return [
        of(controller, {
          code: 'overlap',
          severity: isMeasured ? 'stop' : 'look',
          about,
          figures,
          words: `${warm.tag} heats and ${cold.tag} cools at once over ${size}${isMeasured ? '' : ', by the ranges on paper'}.`,
          advice: isMeasured
            ? 'Set the springs or positioners apart: heat and cold are paid for at once.'
            : 'Measure both springs before anything is changed.',
        }),
      ];
    return [
      of(controller, {
        code: 'abutting',
        severity: 'look',
        about,
        figures,
        words: `Between ${warm.tag} and ${cold.tag} there is ${size} of dead band: a small shift of a spring makes them overlap.`,
        advice: 'Measure both springs under load, and set them at least half a psi apart.',
      }),
    ];
  });
}

/** `calibration-pressure`: it lies in the springs that it is meant to centre. */
export function calibrationPressureRule(network: AirNetwork, controller: ControllerNode): Finding[] {
  const actuators = actuatorsOf(network, controller);
  if (actuators.length === 0 || controller.kind === 'receiver') return [];
  const starts = actuators.map(({ start }) => bestOf(start).value);
  const ends = actuators.map(({ end }) => bestOf(end).value);
  const [from, to] = [Math.min(...starts), Math.max(...ends)];
  // A spring that is read within its tolerance of a pressure takes that pressure in.
  const slack = Math.max(
    SAME_PSI,
    ...actuators.map(({ start, end }) => Math.max(start.tolerance, end.tolerance)),
  );
  return controller.setpoints.flatMap((setpoint): Finding[] => {
    const { role, basis, stated, outputLow, outputHigh } = setpoint;
    const pressure = calibrationPressure({
      basis,
      outputLow,
      outputHigh,
      spring: actuators.length === 1 ? { start: from, end: to } : null,
      stated,
    });
    // A spring in the middle is centred by itself; of several the site has to state a pressure.
    if (pressure === null)
      return basis === 'spring midpoint'
        ? [
            lacking(
              controller,
              'calibration-pressure',
              'a stated calibration pressure for several springs',
              role,
            ),
          ]
        : [lacking(controller, 'calibration-pressure', 'the stated calibration pressure', role)];
    if (pressure >= from - slack && pressure <= to + slack) return [];
    return [
      of(controller, {
        code: 'calibration-pressure',
        severity: 'look',
        about: role,
        figures: {
          'calibration pressure': psiText({ value: pressure }),
          springs: `${psiText({ value: from })} to ${psiText({ value: to })}`,
        },
        words: `It is calibrated to ${psiText({ value: pressure })}, outside the springs that it moves (${psiText({ value: from })} to ${psiText({ value: to })}; their middle is ${psiText({ value: midpoint(from, to) })}).`,
        advice:
          'Settle which pressure the setpoint is to be centred on, and enter it; the drift series follows.',
      }),
    ];
  });
}

/** `gauge-coarse`, `no-history`: what a point was read with, and whether it ever was. */
export function pointRule(node: NetworkNode, point: PointFacts, today: PlainDate): Finding[] {
  const about = [point.kind, point.role].filter((word) => word !== '').join(' ');
  const findings: Finding[] = [];
  if (point.ratio !== null && point.ratio < 4 - 1e-9)
    findings.push(
      of(node, {
        code: 'gauge-coarse',
        severity: point.ratio < 2 - 1e-9 ? 'stop' : 'look',
        about,
        figures: { tolerance: point.toleranceText, ratio: point.ratio.toFixed(2) },
        words: `Its ${about} was last read with instruments ${point.ratio.toFixed(2)} times as good as its tolerance of ${point.toleranceText}.`,
        advice:
          point.ratio < 2
            ? 'Read it again with a better gauge: this record decides nothing.'
            : 'Use a better gauge at the next visit.',
      }),
    );
  if (!point.isRead && node.inServiceOn !== null && addDays(node.inServiceOn, point.intervalDays) < today)
    findings.push(
      of(node, {
        code: 'no-history',
        severity: 'look',
        about,
        figures: { 'in service': node.inServiceOn, interval: `${point.intervalDays} days` },
        words: `Its ${about} is in service since ${node.inServiceOn} and was never read.`,
        advice: 'Take it into the next round, or load its past readings.',
      }),
    );
  return findings;
}
