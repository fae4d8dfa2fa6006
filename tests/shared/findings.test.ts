/** Registers that are sound by their making give no finding that stops; each rule on its own edge. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { findingsOf } from '../../shared/register/findings/index.ts';
import type {
  ActuatorNode,
  AirNetwork,
  ControllerNode,
  Figure,
  MainNode,
  NetworkNode,
  SetpointFacts,
} from '../../shared/register/findings/network.ts';

const TODAY = '2026-11-25';
const figure = (nominal: number, measured: number | null = null): Figure => ({
  nominal,
  measured: measured === null ? null : { value: measured, on: '2026-05-01' },
  tolerance: 0.5,
});
const base = { inServiceOn: '2000-01-01', feeders: [] as number[], fed: [] as number[], ownBleed: null };

type Sound = {
  pairs: { low: number; high: number; slack: number }[];
  kinds: ('two-setpoint' | 'changeover' | 'single')[];
  gains: number[];
  gaps: number[];
  isPiloted: boolean[];
};

/** A register in which everything is as it should be, whatever its sizes. */
function soundRegister({ pairs, kinds, gains, gaps, isPiloted }: Sound): AirNetwork {
  const nodes = new Map<number, NetworkNode>();
  let next = 1;
  const add = <T extends NetworkNode>(
    node: Omit<T, 'id' | 'tag' | 'feeders' | 'fed' | 'inServiceOn'>,
    feeder: number | null,
  ): number => {
    const id = next;
    next += 1;
    nodes.set(id, {
      ...base,
      ...node,
      id,
      tag: `D-${id}`,
      feeders: feeder === null ? [] : [feeder],
      fed: [],
    } as unknown as NetworkNode);
    if (feeder !== null) nodes.get(feeder)?.fed.push(id);
    return id;
  };
  const station = add(
    {
      class: 'air_station',
      capacity: { nominal: 400, measured: null },
      coldestDegF: 50,
      dewPoint: { degF: 20, psi: 80, on: '2026-05-01' },
      run: { share: 0.2, on: '2026-05-01' },
      oil: { value: 0.5, on: '2026-05-01' },
      particle: { value: 10, on: '2026-05-01' },
    } as never,
    null,
  );
  const clock = add(
    {
      class: 'time_switch',
      ahead: null,
      spans: [{ weekdays: '12345', from: 360, to: 1080, state: 'low' }],
      restState: 'high',
      holidays: ['2027-12-25'],
    } as never,
    null,
  );
  for (const [index, { low, high, slack }] of pairs.entries()) {
    const kind = kinds[index % kinds.length];
    const isTwo = kind !== 'single';
    const pilot = isPiloted[index % isPiloted.length];
    const relay = isTwo
      ? add(
          {
            class: 'switchover_relay',
            ports: pilot
              ? { no: 'supply air', nc: 'exhaust' }
              : { no: 'high regulator', nc: 'low regulator' },
            energisedState: 'low',
            powerLossState: 'high',
            drivenBy: 'time switch',
            timeSwitchId: clock,
            pilots: [],
          } as never,
          pilot ? station : null,
        )
      : null;
    const regulator = (lowSet: number, highSet: number | null): number =>
      add(
        {
          class: 'regulator',
          kind: highSet === null ? 'single' : 'two-pressure',
          low: lowSet,
          high: highSet,
          relief: high + 5,
          pilotBy: highSet === null ? null : relay,
        } as never,
        station,
      );
    let feeder: number;
    if (relay === null) feeder = regulator(high, null);
    else if (pilot) {
      feeder = regulator(low, high);
      (nodes.get(relay) as { pilots: number[] }).pilots.push(feeder);
    } else {
      const [one, other] = [regulator(low, null), regulator(high, null)];
      for (const id of [one, other]) {
        nodes.get(id)?.fed.push(relay);
        nodes.get(relay)?.feeders.push(id);
      }
      feeder = relay;
    }
    const [lowMeans, highMeans] = kind === 'changeover' ? ['cooling', 'heating'] : ['occupied', 'unoccupied'];
    const main = add<MainNode>(
      {
        class: 'main',
        kind: isTwo ? 'two-pressure' : 'single',
        lowMeans: isTwo ? lowMeans : null,
        highMeans: isTwo ? highMeans : null,
        // Read within its tolerance, on either side.
        low: figure(isTwo ? low : high, (isTwo ? low : high) + slack),
        high: isTwo ? figure(high, high - slack) : null,
        seasons: [],
        naturalState: 'low',
        isHeld: false,
      } as never,
      feeder,
    );
    const roles = kind === 'single' ? ['only'] : [lowMeans, highMeans];
    const gain = gains[index % gains.length];
    const setpoints = roles.map((role): SetpointFacts => ({
      role,
      // On a changeover coil that is normally open, hot water wants direct action and chilled water reverse.
      action: role === 'cooling' ? 'reverse' : 'direct',
      gain,
      unit: 'degF',
      outputLow: 3,
      outputHigh: 13,
      basis: 'output midpoint',
      stated: null,
    }));
    const controller = add<ControllerNode>(
      {
        class: 'controller',
        kind,
        rated: isTwo ? { low, high } : null,
        trips: null,
        pipes: '2',
        setpoints,
      } as never,
      main,
    );
    const actuator = (normal: 'open' | 'closed', duty: string, start: number, end: number): number =>
      add<ActuatorNode>(
        {
          class: 'actuator',
          start: figure(start),
          end: figure(end),
          normal,
          duty,
          positioner: 'no',
        } as never,
        controller,
      );
    if (kind === 'changeover') actuator('open', 'changeover coil', 3, 13);
    else {
      const gap = gaps[index % gaps.length];
      actuator('open', 'hot water', 3, 8 - gap / 2);
      actuator('closed', 'chilled water', 8 + gap / 2, 13);
    }
  }
  return { nodes, points: [] };
}

const sound = fc.record({
  pairs: fc.array(
    fc.record({
      low: fc.constantFrom(13, 16, 20),
      high: fc.constantFrom(21, 25),
      // One reading lies on the wrong side of a rated figure by half of its tolerance at most.
      slack: fc.double({ min: -0.25, max: 0.25, noNaN: true }),
    }),
    { minLength: 1, maxLength: 12 },
  ),
  kinds: fc.array(fc.constantFrom('two-setpoint' as const, 'changeover' as const, 'single' as const), {
    minLength: 1,
    maxLength: 5,
  }),
  gains: fc.array(fc.double({ min: 0.5, max: 5, noNaN: true }), { minLength: 1, maxLength: 4 }),
  gaps: fc.array(fc.double({ min: 0.5, max: 3, noNaN: true }), { minLength: 1, maxLength: 4 }),
  isPiloted: fc.array(fc.boolean(), { minLength: 1, maxLength: 4 }),
});

describe('a sound register', () => {
  it('gives no finding at all, whatever its sizes', () =>
    fc.assert(
      fc.property(sound, (register) => {
        expect(findingsOf(soundRegister(register), TODAY)).toEqual([]);
      }),
    ));
  it('with one fault planted gives that finding', () =>
    fc.assert(
      fc.property(
        sound,
        fc.constantFrom('relief-low', 'stroke-short', 'supply-orphan', 'relay-undriven'),
        (register, code) => {
          const network = soundRegister(register);
          const nodes = [...network.nodes.values()];
          const of = (kind: NetworkNode['class']) => nodes.find((one) => one.class === kind);
          if (code === 'relief-low') Object.assign(of('regulator') ?? {}, { relief: 1 });
          else if (code === 'stroke-short') Object.assign(of('actuator') ?? {}, { end: figure(40) });
          else if (code === 'supply-orphan') Object.assign(of('controller') ?? {}, { feeders: [] });
          else {
            const relay = of('switchover_relay');
            if (!relay) return;
            Object.assign(relay, { drivenBy: null });
          }
          expect(findingsOf(network, TODAY).map((one) => one.code)).toContain(code);
        },
      ),
    ));
});
