/**
 * Which air stands where in the sample site, at moments worked out by hand from its register: the hall's switch asks for low
 * Monday to Friday 06:00 to 18:00 and Saturday 08:00 to 13:00, the annex's Monday to Friday 06:30 to 19:00, both for high
 * else and on holidays; the fan-coil main goes by season, 1 May to 30 September low.
 */
import { describe, expect, it } from 'vitest';
import { airNetwork } from '../../db/airNetwork.ts';
import { writeBook } from '../../db/book.ts';
import { appendCalibration } from '../../db/records.ts';
import { minutesOfClock } from '../../shared/dates/plainDate.ts';
import { airAt, whatChanges } from '../../shared/register/air/airAt.ts';
import type { Conditions } from '../../shared/register/air/airAt.ts';
import type { AirNetwork } from '../../shared/register/findings/network.ts';
import { sampleService } from '../support/books.ts';

const MAINS = ['HM-N', 'HM-S', 'HM-F', 'AM-E', 'AM-W'] as const;

function idOf(network: AirNetwork, tag: string): number {
  const node = [...network.nodes.values()].find((one) => one.tag === tag);
  if (!node) throw new Error(tag);
  return node.id;
}

type Special = { noPower?: true; lost?: string; coil?: [string, boolean]; ahead?: [string, number] };

function conditionsOf(network: AirNetwork, date: string, time: string, special: Special = {}): Conditions {
  const { noPower, lost, coil, ahead } = special;
  return {
    date,
    minute: minutesOfClock(time) ?? 0,
    hasPower: noPower !== true,
    lost: new Set(lost ? [idOf(network, lost)] : []),
    coils: new Map(coil ? [[idOf(network, coil[0]), coil[1]]] : []),
    ahead: new Map(ahead ? [[idOf(network, ahead[0]), ahead[1]]] : []),
  };
}

const shown = (state: string | null, psi: number | null): string => `${state ?? 'one'} ${psi}`;

const moments: [string, string, string, Special, string][] = [
  ['a Wednesday morning in winter', '2027-01-13', '10:00', {}, 'low 13, low 13, high 18, low 16, one 20'],
  [
    'a minute before the hall begins',
    '2027-01-13',
    '05:59',
    {},
    'high 18, high 18, high 18, high 21, one 20',
  ],
  ['the minute in which it begins', '2027-01-13', '06:00', {}, 'low 13, low 13, high 18, high 21, one 20'],
  [
    'the minute in which the annex begins',
    '2027-01-13',
    '06:30',
    {},
    'low 13, low 13, high 18, low 16, one 20',
  ],
  ['its last minute', '2027-01-13', '17:59', {}, 'low 13, low 13, high 18, low 16, one 20'],
  [
    'the minute in which the hall ends',
    '2027-01-13',
    '18:00',
    {},
    'high 18, high 18, high 18, low 16, one 20',
  ],
  ['midnight', '2027-01-13', '00:00', {}, 'high 18, high 18, high 18, high 21, one 20'],
  ['a Saturday morning', '2027-01-16', '09:00', {}, 'low 13, low 13, high 18, high 21, one 20'],
  ['a Saturday at one', '2027-01-16', '13:00', {}, 'high 18, high 18, high 18, high 21, one 20'],
  ['a Sunday', '2027-01-17', '10:00', {}, 'high 18, high 18, high 18, high 21, one 20'],
  [
    'Good Friday, a holiday of both switches',
    '2027-03-26',
    '10:00',
    {},
    'high 18, high 18, high 18, high 21, one 20',
  ],
  ['Christmas Day', '2026-12-25', '10:00', {}, 'high 18, high 18, high 18, high 21, one 20'],
  [
    'the last night of the heating season',
    '2027-04-30',
    '23:59',
    {},
    'high 18, high 18, high 18, high 21, one 20',
  ],
  [
    'the first minute of the cooling season',
    '2027-05-01',
    '00:00',
    {},
    'high 18, high 18, low 13, high 21, one 20',
  ],
  ['its last day', '2027-09-30', '12:00', {}, 'low 13, low 13, low 13, low 16, one 20'],
  [
    'the Monday after the clocks went forward, the hall’s switch not yet set: it shows 05:30',
    '2027-03-15',
    '06:30',
    { ahead: ['TS-HALL', -60] },
    'high 18, high 18, high 18, low 16, one 20',
  ],
  [
    'the Monday after they went back, not yet set: it shows 18:30',
    '2027-11-08',
    '17:30',
    { ahead: ['TS-HALL', 60] },
    'high 18, high 18, high 18, low 16, one 20',
  ],
  [
    'a switch an hour ahead, just before midnight of a Friday: it shows Saturday 00:30',
    '2027-01-15',
    '23:30',
    { ahead: ['TS-ANNEX', 60] },
    'high 18, high 18, high 18, high 21, one 20',
  ],
  [
    'a power failure by day',
    '2027-01-13',
    '10:00',
    { noPower: true },
    'high 18, high 18, high 18, low 16, one 20',
  ],
  [
    'the fan-coil relay energised by its hand switch in winter',
    '2027-01-13',
    '10:00',
    { coil: ['SR-HF', true] },
    'low 13, low 13, low 13, low 16, one 20',
  ],
  [
    'the north relay held without current by day',
    '2027-01-13',
    '10:00',
    { coil: ['SR-HN', false] },
    'high 18, low 13, high 18, low 16, one 20',
  ],
  [
    'the same held energised while the power fails',
    '2027-01-13',
    '10:00',
    { coil: ['SR-HN', true], noPower: true },
    'high 18, high 18, high 18, low 16, one 20',
  ],
  [
    'the hall’s station lost',
    '2027-01-13',
    '10:00',
    { lost: 'AS-HALL' },
    'low 0, low 0, low 0, low 16, one 20',
  ],
];

/** The same with its mains as they are set, whatever was read of them. */
function asSet(network: AirNetwork): AirNetwork {
  const nodes = new Map(network.nodes);
  for (const node of network.nodes.values())
    if (node.class === 'main')
      nodes.set(node.id, {
        ...node,
        low: { ...node.low, measured: null },
        high: node.high && { ...node.high, measured: null },
      });
  return { ...network, nodes };
}

describe('the air of the sample site', () => {
  it.each(moments)('%s', async (_words, date, time, special, wanted) => {
    const service = await sampleService();
    const network = asSet(await airNetwork(service.book.reader));
    const air = airAt(network, conditionsOf(network, date, time, special));
    const answer = MAINS.map((tag) => {
      const own = air.get(idOf(network, tag));
      return shown(own?.state ?? null, own?.psi ?? null);
    });
    expect(answer.join(', ')).toBe(wanted);
  });
  it('stands at what was read, with the day, where it was', async () => {
    const service = await sampleService();
    const network = await airNetwork(service.book.reader);
    const main = network.nodes.get(idOf(network, 'HM-N'));
    if (main?.class !== 'main') throw new Error('no main');
    const own = airAt(network, conditionsOf(network, '2027-01-13', '10:00')).get(main.id);
    expect(own).toMatchObject({ psi: main.low.measured?.value, measuredOn: main.low.measured?.on });
    expect(own?.psi).not.toBe(main.low.nominal);
  });
  it('a main that is held stays as it was left', async () => {
    const service = await sampleService();
    const network = await airNetwork(service.book.reader);
    const held = network.nodes.get(idOf(network, 'ZM-S'));
    if (held?.class !== 'main') throw new Error('no main');
    const air = airAt(network, conditionsOf(network, '2027-01-13', '10:00'));
    expect([held.isHeld, air.get(held.id)?.state, air.get(held.id)?.why]).toEqual([
      true,
      held.naturalState,
      'held as it was left',
    ]);
  });
  it('follows a clock as it was read last, seven minutes ahead', async () => {
    const service = await sampleService();
    const point = await service.book.reader
      .selectFrom('test_point as tp')
      .innerJoin('device as d', 'd.id', 'tp.device_id')
      .select('tp.id')
      .where('d.tag', '=', 'TS-HALL')
      .where('tp.kind', '=', 'clock')
      .executeTakeFirstOrThrow();
    await writeBook(service.book, async (db) =>
      appendCalibration(
        db,
        {
          test_point_id: point.id,
          done_on: '2026-11-24',
          started_at: null,
          ended_at: '2026-11-24T10:00:00Z',
          person_id: 1,
          outcome: 'held',
          source: 'bench',
          unit: 'minutes',
          method: 'read',
          method_version: 'test',
          decision_rule: 'simple acceptance',
          error_found_milli: 7_000,
          found_relation: '=',
          verdict_found: 'outside',
          error_left_milli: null,
          left_relation: null,
          verdict_left: null,
          doubt_milli: null,
          pressure_gauge_id: null,
          temperature_gauge_id: null,
          supply_right: 1,
          snapshot_json: '{}',
          note: '',
        },
        [],
      ),
    );
    const network = await airNetwork(service.book.reader);
    const north = (time: string, special: Special = {}) => {
      const own = airAt(network, conditionsOf(network, '2027-01-13', time, special)).get(
        idOf(network, 'HM-N'),
      );
      return `${own?.state} ${own?.why}`;
    };
    expect([north('05:52'), north('05:53'), north('05:53', { ahead: ['TS-HALL', 0] })]).toEqual([
      'high by TS-HALL, its clock 7 min ahead',
      'low by TS-HALL, its clock 7 min ahead',
      'high by TS-HALL',
    ]);
  });
  it('says which setpoints wake up, and where heat follows', async () => {
    const service = await sampleService();
    const network = await airNetwork(service.book.reader);
    const by = (special: Special = {}) =>
      airAt(network, conditionsOf(network, '2027-01-13', '10:00', special));
    const switched = whatChanges(network, by(), by({ coil: ['SR-HN', false] }));
    expect(switched.map(({ main, from, to, wakes }) => [main.tag, from.state, to.state, wakes])).toEqual([
      ['HM-N', 'low', 'high', [{ role: 'unoccupied', count: 45 }]],
    ]);
    const lost = whatChanges(network, by(), by({ lost: 'AS-HALL' }));
    expect(lost.map(({ main }) => main.tag)).toEqual(['HM-F', 'HM-N', 'HM-S']);
    const north = lost[1];
    expect([north.to.hasAir, north.wakes, north.heatShuts, north.coolOpens]).toEqual([false, [], 0, 0]);
    expect(north.heatOpens).toBeGreaterThan(0);
    expect(north.coolShuts).toBeGreaterThan(0);
  });
});
