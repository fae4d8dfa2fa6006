/** Records of a device or a test point, newest first; corrected ones are struck through. */
import { Link } from 'wouter';
import type { z } from 'zod';
import type { calibrationSummary } from '../../shared/contract/common.ts';
import { PlainTable } from '../tables/PlainTable.tsx';
import { differenceText } from './format.ts';

type Calibration = z.infer<typeof calibrationSummary>;

export function CalibrationTable({ rows }: { rows: readonly Calibration[] }) {
  if (rows.length === 0) return <p className="quiet">No record yet.</p>;
  return (
    <PlainTable
      label="Records"
      titles={['Date', 'Test point', 'Outcome', '>Found', 'Verdict', '>Left', 'By', 'Note', 'Record']}
      rows={rows.map((row) => ({
        key: row.id,
        className: row.replacedBy === null ? undefined : 'struck',
        cells: [
          row.doneOn,
          row.role || row.kind,
          row.outcome,
          differenceText(row.errorFoundMilli, row.unit, row.foundRelation),
          row.verdictFound ?? '–',
          differenceText(row.errorLeftMilli, row.unit, row.leftRelation),
          row.person,
          row.replacedBy === null ? row.note : `corrected by record ${row.replacedBy}. ${row.note}`,
          <Link key="record" href={`/records/${row.id}`}>
            Record {row.id}
          </Link>,
        ],
      }))}
    />
  );
}
