/** Pieces of the inputs of forms. */
import { rowId } from './common.ts';
import { z } from 'zod';

type Report = { addIssue: (issue: { code: 'custom'; path: string[]; message: string }) => void };

/** Says of a field why its value does not go with the others. */
export function refuse(context: Report, isWrong: boolean, field: string, message: string): void {
  if (isWrong) context.addIssue({ code: 'custom', path: [field], message });
}

/** Of a row that may be new: both null then. */
export const versioned = { id: rowId.nullable(), version: z.number().int().nullable() };
