/** Findings of one device, and what is accepted of them. */
import { airNetwork } from '../../db/airNetwork.ts';
import type { BookDb } from '../../db/book.ts';
import { appendSettingChange } from '../../db/records.ts';
import { idsAbove, idsBelow } from '../../db/supplyPath.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import type { ListedFinding } from '../../shared/contract/findings.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { figuresText } from '../../shared/register/findings/finding.ts';
import type { FindingCode } from '../../shared/register/findings/finding.ts';
import { findingsOf } from '../../shared/register/findings/index.ts';
import type { CallContext, GroupHandlers } from '../context.ts';
import { acceptanceText, changeOf, withAcceptances } from './accepted.ts';
import type { Acceptance } from './accepted.ts';

/** Of so many devices below one the findings are counted at once; of more the list of all says it. */
const MOST_BELOW = 3_000;

/** Findings at a device and below it. Throws `not_found`. */
async function findingsAround(
  db: BookDb,
  deviceId: number,
  today: PlainDate,
): Promise<{ own: ListedFinding[]; below: number; isBelowCounted: boolean }> {
  const device = await db.selectFrom('device').select('id').where('id', '=', deviceId).executeTakeFirst();
  if (!device) throw new AppError('not_found', 'There is no such device in the book.');
  const below = await idsBelow(db, deviceId);
  const network = await airNetwork(db, [...new Set([...(await idsAbove(db, deviceId)), ...below])]);
  const isBelowCounted = below.length <= MOST_BELOW;
  const wanted = isBelowCounted ? below : [deviceId];
  const found = findingsOf(network, today, new Set(wanted));
  const listed = await withAcceptances(db, found, { today, deviceIds: wanted });
  return {
    own: listed.filter((one) => one.deviceId === deviceId),
    below: listed.filter((one) => one.deviceId !== deviceId && one.accepted === null).length,
    isBelowCounted,
  };
}

type Which = { code: FindingCode; deviceId: number; about: string };

async function write(
  { db, clock, personId }: CallContext,
  which: Which,
  { to, why, tag }: { to: Acceptance | null; why: string; tag: string },
): Promise<void> {
  await appendSettingChange(db, {
    what: changeOf(which),
    subject: tag,
    device_id: which.deviceId,
    from_value: null,
    to_value: to === null ? null : acceptanceText(to),
    at: clock.now(),
    person_id: personId,
    why,
  });
}

function find(own: readonly ListedFinding[], { code, about }: Which): ListedFinding {
  const found = own.find((one) => one.code === code && one.about === about);
  if (!found) throw new AppError('conflict', 'The register does not show this finding any more: look again.');
  return found;
}

export const findingsHandlers: GroupHandlers<'findings'> = {
  ofDevice: async ({ db, clock }, { deviceId }) => {
    const { own, below, isBelowCounted } = await findingsAround(db, deviceId, clock.today());
    return { findings: own, below, isBelowCounted };
  },

  accept: async (context, { why, until, figures, ...which }) => {
    const { db, clock, personId } = context;
    if (personId === null) refuseField('person', '', 'choose who accepts it');
    if (until !== null && until < clock.today()) refuseField('until', until, 'that day is over');
    const { own } = await findingsAround(db, which.deviceId, clock.today());
    const finding = find(own, which);
    if (figuresText(finding.figures) !== figuresText(figures))
      throw new AppError('conflict', 'Its figures have changed since it was shown: look again.');
    await write(context, which, { to: { figures: figuresText(figures), until }, why, tag: finding.tag });
    return {};
  },

  reopen: async (context, { why, ...which }) => {
    const { db, clock, personId } = context;
    if (personId === null) refuseField('person', '', 'choose who opens it');
    const { own } = await findingsAround(db, which.deviceId, clock.today());
    const finding = find(own, which);
    if (finding.accepted === null) throw new AppError('conflict', 'It is open already.');
    await write(context, which, { to: null, why, tag: finding.tag });
    return {};
  },
};
