/** Findings of a station: what hangs on it, and how dry and clean its air is. Bases: air-energy reference 2 and 3. */
import { RUN_LIMITS, runVerdict } from '../../trade/air/leakTests.ts';
import { AIR_LIMITS } from '../../trade/air/quality.ts';
import { mostDewPoint } from '../../trade/dewPoint.ts';
import { budgetOf } from '../air/stationUse.ts';
import type { Finding } from './finding.ts';
import { bestOf } from './network.ts';
import type { AirNetwork, StationNode } from './network.ts';
import { lacking, of } from './supplyRules.ts';

/** `air-budget`: the typical steady use against the tested capacity. */
export function airBudgetRule(network: AirNetwork, station: StationNode): Finding[] {
  const { value: capacity, on } = bestOf(station.capacity);
  if (capacity === null || capacity === 0) return [lacking(station, 'air-budget', 'the tested capacity')];
  const { scfm } = budgetOf(network, station);
  const share = scfm.typical / capacity;
  if (share <= RUN_LIMITS.wanted) return [];
  const percent = (value: number): string => `${Math.round(1000 * value) / 10} %`;
  const shown = Number(capacity.toFixed(2));
  return [
    of(station, {
      code: 'air-budget',
      severity: share > RUN_LIMITS.most ? 'stop' : 'look',
      figures: {
        use: `${scfm.typical.toFixed(2)} scfm`,
        capacity: `${shown} scfm${on === null ? '' : ` (measured ${on})`}`,
        share: percent(share),
      },
      words: `What hangs on it takes about ${scfm.typical.toFixed(2)} scfm (${scfm.low.toFixed(2)} to ${scfm.high.toFixed(2)}), ${percent(share)} of its tested ${shown} scfm.`,
      advice:
        'Test the capacity again, look for what bleeds most, and see whether a second compressor carries it.',
    }),
  ];
}

/** `air-budget` of what was measured: the share of the time that it really runs. */
export function runShareRule(_: AirNetwork, station: StationNode): Finding[] {
  const { run } = station;
  if (run === null || runVerdict(run.share) === 'good') return [];
  const percent = `${Math.round(1000 * run.share) / 10} %`;
  return [
    of(station, {
      code: 'air-budget',
      severity: runVerdict(run.share) === 'too long' ? 'stop' : 'look',
      about: 'run share',
      figures: { runs: `${percent} (measured ${run.on})` },
      words: `It runs ${percent} of the time; a third is wanted, half is the most.`,
      advice: 'Leaks, load or a worn pump: a pump-up test tells which. See its sheet.',
    }),
  ];
}

/** Below it a pressure is not that of a receiver, psi. Common practice: receivers stand at 60 to 100. */
export const LEAST_LINE_PSI = 40;

/** The newest dew point against the coldest place. */
function dewPointFindings(station: StationNode): Finding[] {
  if (station.dewPoint === null)
    return [
      {
        ...lacking(station, 'air-quality', 'a measured dew point'),
        words: 'Not checked: no dew point was measured yet.',
        advice: 'Read it at the next check of the station, with the pressure that it refers to.',
      },
    ];
  // A dew point belongs to its pressure: one of reduced or free air says nothing against a limit at line pressure.
  if (station.dewPoint.psi < LEAST_LINE_PSI)
    return [lacking(station, 'air-quality', 'a dew point at line pressure')];
  const most = mostDewPoint(station.coldestDegF);
  const { degF, on } = station.dewPoint;
  const shown = Number(degF.toFixed(1));
  if (degF > most)
    return [
      of(station, {
        code: 'air-quality',
        severity: 'stop',
        figures: {
          'dew point': `${shown} °F (measured ${on})`,
          most: `${Number(most.toFixed(1))} °F`,
          'coldest place':
            station.coldestDegF === null ? 'not known' : `${Number(station.coldestDegF.toFixed(1))} °F`,
        },
        words: `The dew point at line pressure is ${shown} °F; ${Number(most.toFixed(1))} °F is the most for the coldest place that the tubing passes.`,
        advice: 'See to the dryer and the drains before any controller is touched.',
      }),
    ];
  return station.coldestDegF === null ? [lacking(station, 'air-quality', 'the coldest place')] : [];
}

/** Oil and particles of the newest test of each against their limits. */
function dirtFindings(station: StationNode): Finding[] {
  const { oil, particle } = station;
  const missing = [...(oil === null ? ['oil'] : []), ...(particle === null ? ['particles'] : [])].join(
    ' and ',
  );
  const isOily = oil !== null && oil.value > AIR_LIMITS.oilMg;
  const isDusty = particle !== null && particle.value > AIR_LIMITS.particleUm;
  return [
    ...(missing === ''
      ? []
      : [
          {
            ...lacking(station, 'air-quality', `measured ${missing}`, 'oil and particles'),
            words: `Not checked: ${missing} ${missing === 'oil' ? 'was' : 'were'} never measured.`,
            advice:
              'Have a sample taken, or put a tube and a filter paper to it, and log it as a test of the station.',
          },
        ]),
    ...(isOily
      ? [
          of(station, {
            code: 'air-quality' as const,
            severity: 'stop' as const,
            about: 'oil',
            figures: { oil: `${oil.value} mg/m3 (measured ${oil.on})`, most: `${AIR_LIMITS.oilMg} mg/m3` },
            words: `The air holds ${oil.value} mg/m3 of oil; ${AIR_LIMITS.oilMg} mg/m3 (1 ppm) is the most, as near to none as can be.`,
            advice:
              'See to the compressor’s rings and the coalescing filter before any controller is touched.',
          }),
        ]
      : []),
    ...(isDusty
      ? [
          of(station, {
            code: 'air-quality' as const,
            severity: 'stop' as const,
            about: 'particles',
            figures: {
              particle: `${particle.value} um (measured ${particle.on})`,
              most: `${AIR_LIMITS.particleUm} um`,
            },
            words: `Particles of ${particle.value} um were found; ${AIR_LIMITS.particleUm} um is the most.`,
            advice: 'Change the filter elements and look what sheds them before any controller is touched.',
          }),
        ]
      : []),
  ];
}

/** `air-quality`: dew point, oil and particles. */
export function airQualityRule(_: AirNetwork, station: StationNode): Finding[] {
  return [...dewPointFindings(station), ...dirtFindings(station)];
}
