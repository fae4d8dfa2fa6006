/** A calibration as screens and files see it. */
import type { z } from 'zod';
import type { CalibrationListRow } from '../../db/records.ts';
import type { calibrationSummary } from '../../shared/contract/common.ts';

/** The summary of one stored calibration. */
export function toCalibrationSummary(row: CalibrationListRow): z.infer<typeof calibrationSummary> {
  return {
    id: row.id,
    doneOn: row.done_on,
    kind: row.kind,
    role: row.role,
    outcome: row.outcome,
    unit: row.unit,
    errorFoundMilli: row.error_found_milli,
    foundRelation: row.found_relation,
    verdictFound: row.verdict_found,
    errorLeftMilli: row.error_left_milli,
    leftRelation: row.left_relation,
    verdictLeft: row.verdict_left,
    person: row.person_initials,
    note: row.note,
    replacedBy: row.replaced_by,
  };
}
