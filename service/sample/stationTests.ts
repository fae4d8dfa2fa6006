/** The sample's tests of its air stations, two measured bleeds, and its log of leaks. Invented, by seed. */
import type { BookDb } from '../../db/book.ts';
import { appendLeakMended } from '../../db/airRecords.ts';
import { julianYearsBetween } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { scfmOf } from '../../shared/trade/air/flow.ts';
import { CUBIC_FEET_PER_GALLON } from '../../shared/trade/air/leakTests.ts';
import type { AirTestKind, AirTestReading } from '../../shared/trade/air/airTests.ts';
import type { DiameterUnit } from '../../shared/trade/air/leaks.ts';
import type { AirSnapshot } from '../stations/facts.ts';
import { writeAirTest, writeLeak } from '../stations/write.ts';
import { toMilli } from '../../shared/units/units.ts';
import type { Crew } from './people.ts';
import { FIRST_DAY, between, natures } from './stationHistory.ts';

type Person = { id: number; name: string; initials: string };
type Writer = { db: BookDb; people: readonly Person[] };

const reading = (quantity: string, value: number, unit: string): AirTestReading => ({
  quantity,
  valueMilli: Math.round(value * 1000),
  unit,
});

async function deviceOf(db: BookDb, tag: string): Promise<number> {
  return (await db.selectFrom('device').select('id').where('tag', '=', tag).executeTakeFirstOrThrow()).id;
}

function snapshotOf(tag: string, person: Person, capacityMilli: number | null): AirSnapshot {
  return { names: { tag, person: person.name, initials: person.initials }, capacityMilli, altitudeFt: 0 };
}

type Test = { tag: string; kind: AirTestKind; on: PlainDate; capacityMilli: number; note?: string };

async function writeTest(
  writer: Writer,
  { tag, kind, on, capacityMilli, note = '' }: Test,
  readings: readonly AirTestReading[],
): Promise<number | null> {
  const person = writer.people[Number(on.slice(8, 10)) % writer.people.length];
  const snapshot = snapshotOf(tag, person, capacityMilli);
  const record = {
    deviceId: await deviceOf(writer.db, tag),
    personId: person.id,
    on,
    at: `${on}T15:20:00Z`,
    note,
    snapshot,
    corrects: null,
  };
  // Read from the station's own gauge: those of the drawer end at 30 psi.
  const { flowScimMilli } = await writeAirTest(writer.db, record, { kind, gaugeId: null, readings });
  return flowScimMilli;
}

const ATMOSPHERE = 14.7;

/** The yearly tests of one station: capacity, demand, hour meter; leaks and quality every third year. */
async function writeYears(writer: Writer, tag: string): Promise<void> {
  const nature = natures[tag];
  const random = createRandom(nature.seed + 7);
  const volume = nature.gallons * CUBIC_FEET_PER_GALLON;
  let capacityMilli = Math.round(nature.capacity * 1000);
  for (let year = 2019; year <= 2026; year += 1) {
    const on = `${year}-0${random.integer(3, 5)}-${random.integer(10, 27)}`;
    const years = julianYearsBetween(FIRST_DAY, on);
    const capacity = (nature.capacity - nature.capacityLostAYear * years) * between(random, 0.985, 1.015);
    const demand = (nature.demand + nature.demandMoreAYear * years) * between(random, 0.97, 1.03);
    const pumped = await writeTest(
      writer,
      { tag, on, capacityMilli, kind: 'pump-up', note: 'load shut off' },
      [
        reading('volume', nature.gallons, 'gal'),
        reading('pressure at the start', 60, 'psi'),
        reading('pressure at the end', 80, 'psi'),
        reading('time', Math.round((2000 * volume) / (capacity * ATMOSPHERE)) / 100, 'minutes'),
      ],
    );
    // From that day on the newest test is the capacity.
    capacityMilli = toMilli(scfmOf(pumped ?? 0));
    const base = { tag, on, capacityMilli };
    await writeTest(writer, { ...base, kind: 'regulated demand' }, [
      reading('volume', nature.gallons, 'gal'),
      reading('pressure at the start', 80, 'psi'),
      reading('pressure at the end', 60, 'psi'),
      reading('time', Math.round((2000 * volume) / (demand * ATMOSPHERE)) / 100, 'minutes'),
    ]);
    await writeTest(writer, { ...base, on: `${year}-10-0${random.integer(2, 9)}`, kind: 'hour meter' }, [
      reading('hours run', Math.round((1680 * demand) / capacity), 'hours'),
      reading('hours by the clock', 1680, 'hours'),
    ]);
    if (year % 3 !== 0) continue;
    await writeTest(
      writer,
      { ...base, kind: 'bleed-down', note: 'receiver and the pipes of the plant room, shut off' },
      [
        reading('volume', nature.gallons + 6, 'gal'),
        reading('pressure at the start', 80, 'psi'),
        reading('pressure at the end', 76 - random.integer(0, 2), 'psi'),
        reading('time', 60, 'minutes'),
      ],
    );
    await writeTest(writer, { ...base, kind: 'air quality', note: 'tube and filter paper' }, [
      reading('oil', between(random, 0.3, 0.8), 'mg/m3'),
      reading('largest particle', random.integer(5, 15), 'um'),
    ]);
  }
}

const leaks: readonly {
  tag: string;
  place: string;
  on: PlainDate;
  micro: number;
  unit: DiameterUnit;
  psi: number;
  mended?: PlainDate;
  note?: string;
}[] = [
  {
    tag: 'AS-HALL',
    place: 'union before the second filter',
    on: '2024-03-12',
    micro: 31_250,
    unit: 'in',
    psi: 78,
    mended: '2024-03-14',
    note: 'heard, soap test',
  },
  {
    tag: 'HM-N',
    place: 'riser N, tee at floor 2',
    on: '2025-02-06',
    micro: 15_625,
    unit: 'in',
    psi: 18,
    note: 'soap test; behind the panel',
  },
  {
    tag: 'HM-S',
    place: 'copper joint above room S1-04',
    on: '2025-05-21',
    micro: 15_625,
    unit: 'in',
    psi: 18,
    mended: '2025-06-03',
  },
  {
    tag: 'VH-S2-05',
    place: 'diaphragm of the valve',
    on: '2026-10-06',
    micro: 800_000,
    unit: 'mm',
    psi: 9,
    note: 'new diaphragm ordered',
  },
  {
    tag: 'AM-W',
    place: 'rubber sleeve on the west loop',
    on: '2026-05-14',
    micro: 31_250,
    unit: 'in',
    psi: 20,
  },
];

async function writeLeaks(writer: Writer): Promise<void> {
  for (const { tag, place, on, micro, unit, psi, mended, note } of leaks) {
    const person = writer.people[1];
    const size = {
      diameterMicro: micro,
      diameterUnit: unit,
      pressureMilli: psi * 1000,
      pressureUnit: 'psi' as const,
      coefficientMilli: null,
    };
    const record = {
      deviceId: await deviceOf(writer.db, tag),
      personId: person.id,
      on,
      at: `${on}T15:40:00Z`,
      note: note ?? '',
      snapshot: snapshotOf(tag, person, null),
      corrects: null,
    };
    const id = await writeLeak(writer.db, record, { place, size });
    if (mended)
      await appendLeakMended(writer.db, {
        leak_id: id,
        mended_on: mended,
        person_id: person.id,
        note: 'made tight, soap test good',
        at: `${mended}T10:05:00Z`,
      });
  }
}

/** Tests and leaks of the stations, and what two devices bleed by a flow tube. */
export async function writeStationTests(db: BookDb, crew: Crew): Promise<void> {
  const people = await db
    .selectFrom('person')
    .select(['id', 'name', 'initials'])
    .where('id', 'in', crew.personIds)
    .orderBy('id')
    .execute();
  const writer: Writer = { db, people };
  for (const tag of Object.keys(natures)) await writeYears(writer, tag);
  for (const [tag, scim] of [
    ['TC-N1-01', 13.5],
    ['TC-W1-01', 19],
  ] as const)
    await writeTest(
      writer,
      {
        tag,
        kind: 'bleed of a device',
        on: '2026-02-17',
        capacityMilli: 12_500,
        note: 'flow tube in the supply',
      },
      [reading('steady flow', scim, 'scim')],
    );
  await writeLeaks(writer);
}
