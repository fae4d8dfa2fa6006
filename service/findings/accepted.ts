/**
 * Accepted findings: a setting change of the device, kept in the chain like any other. The newest one of a finding holds,
 * while its figures are the same and its time is not over.
 */
import { initialsOf } from '../../db/people.ts';
import type { BookDb } from '../../db/book.ts';
import type { ListedFinding } from '../../shared/contract/findings.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { figuresText } from '../../shared/register/findings/finding.ts';
import type { Finding } from '../../shared/register/findings/finding.ts';

export type Acceptance = { figures: string; until: PlainDate | null };

const FOR_GOOD = 'a figure changes';

/** As the change's new value: words that a person reads in the device's history, and the program back. */
export function acceptanceText({ figures, until }: Acceptance): string {
  return `accepted until ${until ?? FOR_GOOD}, with ${figures}`;
}

function acceptanceOf(text: string): Acceptance | null {
  const read = /^accepted until (\d{4}-\d{2}-\d{2}|a figure changes), with (.*)$/su.exec(text);
  return read && { until: read[1] === FOR_GOOD ? null : read[1], figures: read[2] };
}

/** The same figure read again on another day is the same figure. */
function withoutDates(figures: string): string {
  return figures.replaceAll(/ \(measured \d{4}-\d{2}-\d{2}\)/gu, '');
}

/** What a setting change of a finding is about. */
export function changeOf({ code, about }: Pick<Finding, 'code' | 'about'>): string {
  return `finding ${code}${about === '' ? '' : ` ${about}`}`;
}

type Held = Acceptance & { at: string; personId: number | null; why: string };

/** The acceptances in force, by device and finding; of one device where it is named. */
async function heldAcceptances(db: BookDb, deviceIds: readonly number[] | null): Promise<Map<string, Held>> {
  const rows = await db
    .selectFrom('setting_change')
    .select(['device_id', 'what', 'to_value', 'at', 'person_id', 'why'])
    .where('what', 'like', 'finding %')
    .where((eb) => (deviceIds === null ? eb.lit(true) : eb('device_id', 'in', [...deviceIds])))
    .orderBy('id')
    .execute();
  const held = new Map<string, Held>();
  for (const { device_id, what, to_value, at, person_id, why } of rows) {
    const key = `${device_id} ${what}`;
    const acceptance = to_value === null ? null : acceptanceOf(to_value);
    if (acceptance === null) held.delete(key);
    else held.set(key, { ...acceptance, at, personId: person_id, why });
  }
  return held;
}

/** Findings with what was accepted of them by a day. */
export async function withAcceptances(
  db: BookDb,
  findings: readonly Finding[],
  { today, deviceIds = null }: { today: PlainDate; deviceIds?: readonly number[] | null },
): Promise<ListedFinding[]> {
  const held = await heldAcceptances(db, deviceIds);
  const people = await initialsOf(
    db,
    [...held.values()].flatMap(({ personId }) => (personId === null ? [] : [personId])),
  );
  return findings.map((finding) => {
    const own = held.get(`${finding.deviceId} ${changeOf(finding)}`);
    if (!own) return { ...finding, accepted: null, cameBack: false };
    const isInForce =
      withoutDates(own.figures) === withoutDates(figuresText(finding.figures)) &&
      (own.until === null || own.until >= today);
    return {
      ...finding,
      accepted: isInForce
        ? {
            person: own.personId === null ? '' : (people.get(own.personId) ?? ''),
            at: own.at,
            why: own.why,
            until: own.until,
          }
        : null,
      cameBack: !isInForce,
    };
  });
}
