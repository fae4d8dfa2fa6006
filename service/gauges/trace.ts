/** Which records were taken with an instrument, and what each would say without its bias. */
import type { BookDb } from '../../db/book.ts';
import { certificatesOf } from '../../db/gauges.ts';
import { calibrationContent, cardOfCalibration, readingsOf } from '../../db/records.ts';
import type { Instrument } from '../../shared/cards/instruments.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { Restated } from '../../shared/contract/gauges.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import type { StoredCalibration } from '../records/recompute.ts';
import { restate } from './restate.ts';

type TracedGauge = Pick<Instrument, 'id' | 'tag' | 'kind' | 'unit'>;

/** Most records that one look re-states; more are asked for by a later first day. */
const MOST_RECORDS = 20_000;

async function traced(db: BookDb, gauge: TracedGauge, sinceOn: string | null, foundOn: string) {
  let query = db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .innerJoin('person as p', 'p.id', 'c.person_id')
    .leftJoin('correction as x', 'x.replaced_id', 'c.id')
    .select([
      'c.id as calibrationId',
      'd.id as deviceId',
      'tp.id as testPointId',
      'd.tag',
      'tp.kind',
      'tp.role',
      'c.done_on as doneOn',
      'p.initials as person',
      'c.outcome',
      'c.unit',
      'c.error_found_milli as foundMilli',
      'c.found_relation as foundRelation',
      'c.verdict_found as verdictFound',
      'c.error_left_milli as leftMilli',
      'c.verdict_left as verdictLeft',
    ])
    .where(gauge.kind === 'pressure' ? 'c.pressure_gauge_id' : 'c.temperature_gauge_id', '=', gauge.id)
    .where('c.done_on', '<=', foundOn)
    .where('x.id', 'is', null)
    .orderBy('c.done_on')
    .orderBy('c.id');
  if (sinceOn !== null) query = query.where('c.done_on', '>=', sinceOn);
  return query.limit(MOST_RECORDS + 1).execute();
}

async function restatedRow(
  db: BookDb,
  row: Awaited<ReturnType<typeof traced>>[number],
  bias: { kind: Instrument['kind']; milli: number; unit: Instrument['unit'] },
): Promise<Restated> {
  const nothing = {
    restatedFoundMilli: null,
    restatedVerdictFound: null,
    restatedLeftMilli: null,
    restatedVerdictLeft: null,
    changes: false,
  };
  if (row.foundMilli === null && row.leftMilli === null)
    return { ...row, ...nothing, notRestated: 'it holds no error' };
  const content = (await calibrationContent(db, row.calibrationId)) as StoredCalibration;
  const group = await cardOfCalibration(db, row.calibrationId);
  const readings = await readingsOf(
    db,
    group.map(({ id }) => id),
  );
  const figures = restate(content, readings, bias);
  if (!figures)
    return { ...row, ...nothing, notRestated: 'its readings were not taken with this kind of instrument' };
  return {
    ...row,
    restatedFoundMilli: figures.found,
    restatedVerdictFound: figures.verdictFound as Restated['restatedVerdictFound'],
    restatedLeftMilli: figures.left,
    restatedVerdictLeft: figures.verdictLeft as Restated['restatedVerdictLeft'],
    changes: figures.verdictFound !== row.verdictFound || figures.verdictLeft !== row.verdictLeft,
    notRestated: null,
  };
}

/** Records since the last good certificate (or a day), re-stated; those that were corrected are left out. */
export async function traceOf(
  db: BookDb,
  gauge: TracedGauge,
  { biasMilli, foundOn, sinceOn }: { biasMilli: number; foundOn: string; sinceOn: string | null },
): Promise<OutputOf<'gauges.trace'>> {
  const certificates = await certificatesOf(db, [gauge.id]);
  // The certificate with which the fault was found is not the last good one.
  const since = sinceOn ?? certificates.find((one) => one.issued_on < foundOn)?.issued_on ?? null;
  const found = await traced(db, gauge, since, foundOn);
  if (found.length > MOST_RECORDS)
    throw new AppError('invalid_input', 'Too many records for one look.', {
      problems: [
        {
          column: 'sinceOn',
          value: since ?? '',
          reason: `more than ${MOST_RECORDS} records: give a later first day`,
        },
      ],
    });
  const rows: Restated[] = [];
  for (const row of found)
    rows.push(await restatedRow(db, row, { kind: gauge.kind, milli: biasMilli, unit: gauge.unit }));
  return { sinceOn: since, rows, total: rows.length };
}
