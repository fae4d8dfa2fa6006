/**
 * Calendars and tables of issued rounds. What is written by one library is read by another that shares nothing with it
 * (node-ical), and held against RFC 5545 line by line.
 */
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { parse } from 'csv-parse/sync';
import ical from 'node-ical';
import { describe, expect, it } from 'vitest';
import { fromBufferPromise } from 'yauzl';
import type { Service } from '../../service/service.ts';
import { drawnSample, temporaryFolder } from '../support/books.ts';

type Event = {
  uid: string;
  sequence: string | number;
  status: string;
  start: Date;
  end: Date;
  summary: string;
  description: string;
};

async function issue(service: Service, roundId: number): Promise<void> {
  const { round } = await service.call('rounds.show', { id: roundId });
  await service.call('rounds.issue', { id: roundId, version: round.version });
}

async function textOf(
  service: Service,
  id: number,
  initials: string,
  alarmMinutes: number | null = null,
): Promise<string> {
  const { people } = await service.call('settings.all', {});
  const personId = people.find((one) => one.initials === initials)?.id ?? 0;
  const file = await service.call('rounds.calendar', { id, personId, alarmMinutes });
  expect(file.fileName).toBe(`round-${id}-${initials}.ics`);
  return new TextDecoder().decode(file.bytes);
}

function eventsOf(text: string): Event[] {
  return Object.values(ical.sync.parseICS(text)).filter(
    (one) => one?.type === 'VEVENT',
  ) as unknown as Event[];
}

const key = ({ uid, sequence, status }: Event) => ({ uid, sequence: Number(sequence), status });

describe('a person’s calendar', () => {
  it('has every shift of an issued round once, at its time in the zone of the site', async () => {
    const { service, roundId } = await drawnSample(20_000);
    await expect(textOf(service, roundId, 'OV')).rejects.toMatchObject({ code: 'conflict' });
    await issue(service, roundId);
    const text = await textOf(service, roundId, 'OV');
    const { visits } = await service.call('rounds.show', { id: roundId });
    const own = visits.filter(({ person }) => person === 'OV');
    const shifts = new Set(own.map(({ date, shift }) => `${date} ${shift}`));
    const events = eventsOf(text);
    expect(events.length).toBe(shifts.size);
    expect(new Set(events.map(({ uid }) => uid)).size).toBe(events.length);
    expect(events.every((event) => Number(event.sequence) === 0 && event.status === 'CONFIRMED')).toBe(true);
    // By the clock of the place a shift begins when the settings say so, in winter and in summer.
    const clock = new Intl.DateTimeFormat('sv-SE', {
      timeZone: 'America/Chicago',
      dateStyle: 'short',
      timeStyle: 'short',
    });
    expect(new Set(events.map(({ start }) => clock.format(start)))).toEqual(
      new Set([...shifts].map((shift) => shift.replace('dawn', '04:00').replace('day', '07:00'))),
    );
    for (const tag of own.slice(0, 20).flatMap(({ tasks }) => tasks.map((task) => task.tag)))
      expect(
        events.some(({ description }) => description.includes(tag)),
        tag,
      ).toBe(true);
  });

  it('is RFC 5545 to the letter: CRLF, 75 octets, required properties, no alarm unless it is asked for', async () => {
    const { service, roundId } = await drawnSample(20_000);
    const { site, siteVersion } = await service.call('settings.all', {});
    await service.call('settings.saveSite', {
      ...site,
      name: `Halle ${'ä'.repeat(60)}; Nord, 1`,
      version: siteVersion,
    });
    await issue(service, roundId);
    const text = await textOf(service, roundId, 'IM');
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/u);
    for (const line of text.split('\r\n')) expect(Buffer.byteLength(line)).toBeLessThanOrEqual(75);
    const unfolded = text.replaceAll('\r\n ', '').split('\r\n');
    expect(unfolded).toContain(`X-WR-CALNAME;VALUE=TEXT:Halle ${'ä'.repeat(60)}\\; Nord\\, 1: IM`);
    for (const name of ['VERSION:2.0', 'METHOD:PUBLISH', 'TZID:America/Chicago'])
      expect(unfolded.filter((line) => line === name).length).toBe(1);
    const count = (start: string): number => unfolded.filter((line) => line.startsWith(start)).length;
    const events = count('BEGIN:VEVENT');
    for (const name of ['UID:', 'DTSTAMP:', 'SEQUENCE:', 'SUMMARY:', 'CATEGORIES:CALIBRATION', 'STATUS:'])
      expect(count(name), name).toBe(events);
    expect(count('DTSTART;TZID=America/Chicago:')).toBe(events);
    expect(unfolded.filter((line) => /^DTSTAMP:\d{8}T\d{6}Z$/u.test(line)).length).toBe(events);
    expect(count('BEGIN:VALARM')).toBe(0);
    const woken = await textOf(service, roundId, 'IM', 30);
    expect(woken.split('\r\n').filter((line) => line === 'TRIGGER:-PT30M').length).toBe(events);
  });

  it('without a time zone of the site is told in local time', async () => {
    const { service, roundId } = await drawnSample(20_000);
    const { site, siteVersion } = await service.call('settings.all', {});
    await expect(
      service.call('settings.saveSite', { ...site, timeZone: 'Mars/Olympus', version: siteVersion }),
    ).rejects.toMatchObject({ details: { problems: [{ column: 'timeZone' }] } });
    await service.call('settings.saveSite', { ...site, timeZone: '', version: siteVersion });
    await issue(service, roundId);
    const text = await textOf(service, roundId, 'IM');
    expect(text).not.toContain('TZID');
    expect(text).toMatch(/DTSTART:2027\d{4}T\d{6}\r\n/u);
  });

  it('keeps UID and SEQUENCE over a re-draw that leaves a day as it is, counts up where one changed, and cancels what is gone', async () => {
    const { service, roundId } = await drawnSample(20_000);
    await issue(service, roundId);
    const before = eventsOf(await textOf(service, roundId, 'OV'));
    // Nothing happened: the same round again changes nothing in anybody's calendar.
    const again = await service.runJob('rounds.redraw', {
      id: roundId,
      from: '2027-03-01',
      evaluations: 2_000,
    });
    await issue(service, again.roundId);
    const same = eventsOf(await textOf(service, again.roundId, 'OV'));
    const known = new Map(before.map((event) => [event.uid, event]));
    const kept = same.filter((event) => Number(event.sequence) === 0);
    expect(kept.length).toBeGreaterThan(same.length / 2);
    expect(again.moved.length).toBeLessThan(10);
    for (const event of kept)
      expect(known.get(event.uid)?.description.split('\n').slice(1) ?? null).toEqual(
        event.description.split('\n').slice(1),
      );
    // A person falls ill for a month: her shifts of that month are taken back, under the names that they had.
    const { people } = await service.call('settings.all', {});
    const person = people.find(({ initials }) => initials === 'OV');
    if (!person) throw new Error('nobody');
    const { id, version, ...rest } = person;
    const month = { from: '2027-06-01', to: '2027-06-30', reason: 'ill' };
    await service.call('settings.savePerson', { ...rest, id, version, absences: [...rest.absences, month] });
    const third = await service.runJob('rounds.redraw', {
      id: again.roundId,
      from: '2027-05-03',
      evaluations: 20_000,
    });
    await issue(service, third.roundId);
    const after = eventsOf(await textOf(service, third.roundId, 'OV'));
    const inJune = ({ start }: Event): boolean =>
      start.toISOString() > '2027-06-01' && start.toISOString() < '2027-07-01';
    const june = same.filter(inJune).filter(({ status }) => status === 'CONFIRMED');
    expect(june.length).toBeGreaterThan(0);
    for (const event of june) {
      const now = after.find(({ uid }) => uid === event.uid);
      expect(now && key(now)).toEqual({
        uid: event.uid,
        sequence: Number(event.sequence) + 1,
        status: 'CANCELLED',
      });
    }
    for (const event of after) {
      const earlier = same.find(({ uid }) => uid === event.uid);
      if (earlier) expect(Number(event.sequence)).toBeGreaterThanOrEqual(Number(earlier.sequence));
    }
    // Asked for again, the very same text.
    expect(await textOf(service, third.roundId, 'OV')).toBe(await textOf(service, third.roundId, 'OV'));
  }, 120_000);
});

describe('a round as a table', () => {
  it('has every task once, as CSV and as a workbook that runs nothing and is the same twice', async () => {
    const { service, roundId } = await drawnSample(20_000);
    const { visits, unplaced } = await service.call('rounds.show', { id: roundId });
    const csv = await service.call('rounds.table', { id: roundId, as: 'csv' });
    const rows: Record<string, string>[] = parse(Buffer.from(csv.bytes), { columns: true, bom: true });
    const placed = visits.flatMap(({ tasks }) => tasks);
    expect(rows.length).toBe(placed.length + unplaced.length);
    expect(rows.filter((row) => row.date === '').length).toBe(unplaced.length);
    expect(rows.reduce((sum, row) => sum + (row.date === '' ? 0 : Number(row.minutes)), 0)).toBe(
      placed.reduce((sum, { minutes }) => sum + minutes, 0),
    );
    const [one, other] = [
      await service.call('rounds.table', { id: roundId, as: 'xlsx' }),
      await service.call('rounds.table', { id: roundId, as: 'xlsx' }),
    ];
    expect(Buffer.from(one.bytes).equals(Buffer.from(other.bytes))).toBe(true);
    writeFileSync(path.join(temporaryFolder(), 'round.xlsx'), one.bytes);
    const zip = await fromBufferPromise(Buffer.from(one.bytes), { lazyEntries: true });
    let sheet = '';
    for await (const entry of zip.eachEntry())
      if (entry.fileName === 'xl/worksheets/sheet1.xml')
        for await (const piece of await zip.openReadStreamPromise(entry)) sheet += String(piece);
    expect(sheet.match(/<row /gu)?.length).toBe(rows.length + 1);
    expect(sheet).not.toContain('<f>');
    expect(sheet).toContain(rows[0].tag);
  });
});
