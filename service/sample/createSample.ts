/** Makes a book with the sample site. The same program makes the same book, row for row. */
import { createBook, writeBook } from '../../db/book.ts';
import type { BookDb } from '../../db/book.ts';
import { refreshDue } from '../../db/due.ts';
import { openFollowUp } from '../../db/records.ts';
import { registerIndex } from '../../db/registerIndex.ts';
import { writeSetting } from '../../db/settings.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { plainStyle, readRow } from '../../shared/register/row.ts';
import type { RowValues } from '../../shared/register/row.ts';
import { applyRows } from '../register/applyRows.ts';
import type { RowChange } from '../register/applyRows.ts';
import { checkRows } from '../register/checkRows.ts';
import { writePeople } from './people.ts';
import type { Crew } from './people.ts';
import { sampleRegister } from './register.ts';
import { writeEnergy } from './energy.ts';
import { writeStationTests } from './stationTests.ts';
import { writeHistory } from './writeHistory.ts';

const SEED = 1964;
/** When the sample site was put into its book. */
const MADE_AT = '2026-11-20T08:00:00Z';

/** One thing found lately that a recalibration cannot mend. */
async function openLeak(db: BookDb, crew: Crew): Promise<void> {
  const valve = await db
    .selectFrom('device')
    .select('id')
    .where('tag', '=', 'VH-S2-05')
    .executeTakeFirstOrThrow();
  await openFollowUp(db, {
    device_id: valve.id,
    calibration_id: null,
    cause: 'leak at the diaphragm, heard on the round; new diaphragm ordered',
    opened_at: '2026-10-06T11:20:00Z',
    opened_by: crew.personIds[1],
  });
}

/** Adds a device that nobody has calibrated yet, as buildings have. */
const newcomers = [
  { tag: 'TC-W1-99', room: 'W1-01', in_service_on: '2026-08-24' },
  { tag: 'TC-W2-99', room: 'W2-01', in_service_on: '2026-10-12' },
];

function change(rowClass: RowChange['rowClass'], values: RowValues): RowChange {
  return {
    rowClass,
    before: null,
    values: { class: rowClass, pressure_unit: 'psi', temperature_unit: 'degF', ...values },
  };
}

/** Makes the sample book at `file`, which must not exist yet. */
export async function createSampleBook(
  file: string,
  progress: (text: string) => void = () => {},
): Promise<{ devices: number; calibrations: number }> {
  const book = await createBook(file);
  try {
    return await writeBook(book, async (db) => {
      progress('register');
      await writeSetting(
        db,
        'site',
        {
          name: 'Wexmoor Civic Hall and Annex',
          pressureUnit: 'psi',
          temperatureUnit: 'degF',
          timeZone: 'America/Chicago',
        },
        0,
      );
      await writeSetting(db, 'sample', true, 0);
      await writeEnergy(db);
      const crew = await writePeople(db);
      const rows = sampleRegister().map(({ rowClass, values }) => {
        const read = readRow(rowClass, values, plainStyle, null);
        if (read.problems.length > 0)
          throw new Error(`sample row ${values.tag ?? values.room}: ${JSON.stringify(read.problems[0])}`);
        return { rowClass, values: read.values, before: null };
      });
      const [problem] = checkRows(await registerIndex(db), rows);
      if (problem) throw new Error(`sample register: ${JSON.stringify(problem)}`);
      const by = { at: MADE_AT, personId: null, why: 'sample site' };
      await applyRows(db, rows, by);
      await writeHistory({ db, random: createRandom(SEED), crew }, progress);
      progress('tests and leaks of the air stations');
      await writeStationTests(db, crew);
      const late: RowChange[] = newcomers.flatMap(({ tag, room, in_service_on }) => [
        change('controller', {
          tag,
          building: 'ANNEX',
          level: room[1],
          room,
          in_service_on,
          controller_kind: 'single',
          fed_by: 'AM-W',
          pipes: '2',
        }),
        change('setpoint', {
          tag,
          role: 'only',
          action: 'direct',
          dial: '70',
          throttling_range: '4',
          output_low: '3',
          output_high: '13',
          calibration_basis: 'output midpoint',
        }),
      ]);
      await applyRows(db, late, by);
      await refreshDue(
        db,
        (await db.selectFrom('test_point').select('id').execute()).map((row) => row.id),
      );
      await openLeak(db, crew);
      const devices = await db
        .selectFrom('device')
        .select((eb) => eb.fn.countAll<number>().as('n'))
        .executeTakeFirstOrThrow();
      const calibrations = await db
        .selectFrom('calibration')
        .select((eb) => eb.fn.countAll<number>().as('n'))
        .executeTakeFirstOrThrow();
      return { devices: devices.n, calibrations: calibrations.n };
    });
  } finally {
    await book.close();
  }
}
