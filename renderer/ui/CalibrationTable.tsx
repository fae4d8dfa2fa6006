/** Records of a device or a test point, newest first; corrected ones are struck through. */
import type { z } from 'zod';
import type { calibrationSummary } from '../../shared/contract/common.ts';
import { differenceText } from './format.ts';

type Calibration = z.infer<typeof calibrationSummary>;

export function CalibrationTable({ rows }: { rows: readonly Calibration[] }) {
  if (rows.length === 0) return <p className="quiet">No record yet.</p>;
  return (
    <div className="table-frame" role="region" aria-label="Records" tabIndex={0}>
      <table className="plain-table">
        <thead>
          <tr>
            <th scope="col">Date</th>
            <th scope="col">Test point</th>
            <th scope="col">Outcome</th>
            <th scope="col" className="end">
              Found
            </th>
            <th scope="col">Verdict</th>
            <th scope="col" className="end">
              Left
            </th>
            <th scope="col">By</th>
            <th scope="col">Note</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.id} className={row.replacedBy === null ? undefined : 'struck'}>
              <td>{row.doneOn}</td>
              <td>{row.role || row.kind}</td>
              <td>{row.outcome}</td>
              <td className="end">{differenceText(row.errorFoundMilli, row.unit, row.foundRelation)}</td>
              <td>{row.verdictFound ?? '–'}</td>
              <td className="end">{differenceText(row.errorLeftMilli, row.unit, row.leftRelation)}</td>
              <td>{row.person}</td>
              <td>{row.note}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
