/** `findings.list`: every rule over the whole register, and the newest figures that were read. */
import { airNetwork } from '../../db/airNetwork.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { findingsOf } from '../../shared/register/findings/index.ts';
import type { JobHandler } from '../context.ts';
import { withAcceptances } from './accepted.ts';

export const listFindings: JobHandler<'findings.list'> = async ({ book, clock }, _input, hooks) => {
  const db = book.reader;
  hooks.progress(0, 3, 'reading the register');
  const network = await airNetwork(db);
  if (hooks.cancelled()) throw new AppError('cancelled', 'Cancelled; the book is as it was.');
  hooks.progress(1, 3, 'checking every rule');
  const findings = findingsOf(network, clock.today());
  hooks.progress(2, 3, 'looking up what was accepted');
  const listed = await withAcceptances(db, findings, { today: clock.today() });
  return { findings: listed, checked: network.nodes.size };
};
