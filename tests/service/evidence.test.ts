/** The evidence pack: proved as it stands, red for any byte that is not as it was, and the same drift in another book. */
import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { parse } from 'csv-parse/sync';
import { describe, expect, it } from 'vitest';
import { readBook } from '../../db/book.ts';
import { csvText } from '../../service/csv/writeCsv.ts';
import { checkPack } from '../../service/evidence/check.mjs';
import { readingId } from '../../service/evidence/recordTables.ts';
import { packsFolder } from '../../service/evidence/packs.ts';
import { wholeSite } from '../../service/evidence/scope.ts';
import { PROGRAM_VERSION, writePack } from '../../service/evidence/writePack.ts';
import type { Service } from '../../service/service.ts';
import { openPromise } from 'yauzl';
import { packScope } from '../../shared/contract/packScope.ts';
import {
  emptyService,
  headHash,
  loadRegisterText,
  plainFileStyle,
  sampleService,
  temporaryFolder,
  upload,
} from '../support/books.ts';
import { MADE_AT, pack, rows } from '../support/packs.ts';

describe('the pack of the sample site', () => {
  it('is sound by itself, by Node alone, and holds every record and reading once', async () => {
    const service = await sampleService();
    const whole = await pack(service);
    expect(await checkPack(whole)).toMatchObject({ sound: true, problems: [], records: 5245 });
    const said = execFileSync(process.execPath, [path.join(whole, 'check.mjs')], { encoding: 'utf8' });
    expect(said).toMatch(
      /^sound: 20 files, \d+ entries, 5245 records and \d+ drifts hold; head [0-9a-f]{64}\n$/,
    );
    const readings = rows(whole, 'readings.csv');
    const ids = readings.map((row) => row.reading_id).filter((id) => id !== '');
    expect(new Set(ids).size).toBe(ids.length);
    const stored = await service.book.reader
      .selectFrom('reading')
      .select((eb) => eb.fn.countAll<number>().as('n'))
      .executeTakeFirstOrThrow();
    expect(ids.length).toBe(stored.n);
    expect(rows(whole, 'calibrations.csv').length).toBe(5245);
    expect(rows(whole, 'leaks.csv').length).toBe(5);
    // A bound says so; nothing there needs the apostrophe of what a spreadsheet would run.
    expect(new Set(readings.map(({ found_relation }) => found_relation))).toEqual(new Set(['', '>=', '<=']));
    const manifest = JSON.parse(readFileSync(path.join(whole, 'manifest.json'), 'utf8')) as {
      program: { version: string };
    };
    const own = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
      version: string;
    };
    expect([manifest.program.version, PROGRAM_VERSION]).toEqual([own.version, own.version]);
  });

  it('is the same twice but for the time that it states', async () => {
    const service = await sampleService();
    const [one, other] = [await pack(service), await pack(service, { madeAt: '2026-11-26T11:00:00Z' })];
    for (const name of readdirSync(one)) {
      const [a, b] = [one, other].map((folder) => readFileSync(path.join(folder, name), 'latin1'));
      if (name === 'manifest.json') expect(b.replace('2026-11-26T11:00:00Z', MADE_AT)).toBe(a);
      else if (name !== 'manifest.sha256') expect(b === a, name).toBe(true);
    }
  });

  it('gives the same drift in an empty book that loads its register and its readings', async () => {
    const service = await sampleService();
    const folder = await pack(service);
    const other = await emptyService();
    const style = plainFileStyle;
    const file = (name: string) => upload(name, readFileSync(path.join(folder, name)));
    await other.runJob('register.load', { style, files: [file('register.csv')], dryRun: false });
    const load = async () =>
      other.runJob('records.load', { style, files: [file('readings.csv')], dryRun: false });
    expect(await load()).toMatchObject({ added: 5245, problems: [] });
    expect(await load()).toMatchObject({ added: 0, unchanged: 5245 });
    expect(await other.runJob('records.verify', {})).toMatchObject({ sound: true });
    const own = (value: unknown): string =>
      JSON.stringify(value, (key, one: unknown) =>
        ['calibrationId', 'testPointId', 'deviceId'].includes(key) ? undefined : one,
      );
    const devices = await service.book.reader
      .selectFrom('device as d')
      .innerJoin('test_point as tp', 'tp.device_id', 'd.id')
      .select('d.tag')
      .distinct()
      .execute();
    for (const { tag } of devices)
      expect(own(await other.call('drift.ofTag', { tag })), tag).toBe(
        own(await service.call('drift.ofTag', { tag })),
      );
    for (const by of ['kind', 'main'] as const)
      expect(own(await other.runJob('drift.group', { by })), by).toBe(
        own(await service.runJob('drift.group', { by })),
      );
    // What ended a series is known with its reason.
    const replacements = async (one: Service) =>
      one.book.reader
        .selectFrom('replacement as r')
        .innerJoin('device as d', 'd.id', 'r.device_id')
        .select(['d.tag', 'r.on_date', 'r.reason'])
        .orderBy('r.on_date')
        .orderBy('d.tag')
        .execute();
    const [here, there] = [await replacements(service), await replacements(other)];
    expect(there.length).toBeGreaterThan(0);
    expect(there).toEqual(here);
  }, 60_000);
});

describe('a pack', () => {
  it('of a part of the site holds that part, and its days alone', async () => {
    const service = await sampleService();
    const folder = await pack(service, { scope: { main: 'HM-F', from: '2024-01-01', to: '2024-12-31' } });
    const records = rows(folder, 'calibrations.csv');
    expect(records.length).toBeGreaterThan(20);
    for (const { main, asset, observed_on } of records) {
      expect(main === 'HM-F' || asset === 'HM-F').toBe(true);
      expect(observed_on.slice(0, 4)).toBe('2024');
    }
    expect(new Set(rows(folder, 'drift.csv').map((row) => row.observed_on.slice(0, 4)))).toEqual(
      new Set(['2024']),
    );
    expect(await checkPack(folder)).toMatchObject({ sound: true });
  });

  it('that is cancelled, or cannot be, leaves nothing', async () => {
    const service = await sampleService();
    let asked = 0;
    for (const least of [0, 1, 9, 200]) {
      asked = 0;
      await expect(pack(service, { cancelled: () => (asked += 1) > least })).rejects.toMatchObject({
        code: 'cancelled',
        message: 'Cancelled; no pack was written.',
      });
    }
    for (const [scope, column] of [
      [{ main: 'NO-SUCH' }, 'main'],
      [{ building: 'NO-SUCH' }, 'building'],
      [{ tags: ['NO-SUCH'] }, 'tags'],
      [{ from: '2024-02-01', to: '2024-01-01' }, 'to'],
      [{ building: 'HALL', main: 'AM-E' }, 'scope'],
    ] as const)
      await expect(
        pack(service, { scope: { ...scope, tags: 'tags' in scope ? [...scope.tags] : null } }),
      ).rejects.toMatchObject({
        details: { problems: [{ column }] },
      });
    const folder = path.join(temporaryFolder(), 'pack');
    const write = async (cancelled: boolean) =>
      readBook(service.book, async (db) =>
        writePack(
          db,
          { folder, scope: wholeSite, madeAt: MADE_AT },
          { progress: () => undefined, cancelled: () => cancelled },
        ),
      );
    await expect(write(true)).rejects.toMatchObject({ code: 'cancelled' });
    expect(readdirSync(path.dirname(folder))).toEqual([]);
    await write(false);
    await expect(write(false)).rejects.toMatchObject({ code: 'invalid_input' });
    expect(existsSync(path.join(folder, 'manifest.json'))).toBe(true);
  });

  it('names a reading by its entry in the chain and its place, as RFC 9562 writes such names', () => {
    const id = readingId('0'.repeat(64), 1);
    expect(id).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
    expect(readingId('0'.repeat(64), 2)).not.toBe(id);
  });

  it('readings of another program’s making are refused with where and why, and change nothing', async () => {
    const service = await sampleService();
    const folder = await pack(service, { scope: { tags: ['TC-N1-01'] } });
    const text = readFileSync(path.join(folder, 'readings.csv'), 'utf8');
    const other = await emptyService();
    const load = async (content: string) =>
      other.runJob('records.load', {
        style: plainFileStyle,
        files: [upload('readings.csv', content)],
        dryRun: false,
      });
    expect((await load(text)).problems[0]).toMatchObject({ line: 2, column: 'asset' });
    const again = await sampleService();
    const bad = await again.runJob('records.load', {
      style: plainFileStyle,
      files: [upload('readings.csv', text.replaceAll(',held,', ',fine,'))],
      dryRun: false,
    });
    expect(bad.problems[0]).toMatchObject({ column: 'outcome', value: 'fine' });
    expect(bad.added).toBe(0);
  });
});

describe('packs over the contract', () => {
  it('are previewed with the counts that the pack then has, written as a zip, and proved out of it', async () => {
    const service = await sampleService();
    const scope = packScope.parse({ building: 'HALL', from: '2024-01-01' });
    const preview = await service.runJob('evidence.preview', scope);
    const count = (what: string): number | undefined =>
      preview.counts.find((one) => one.what === what)?.count;
    const summary = await service.runJob('evidence.write', { scope, as: 'zip' });
    const rowsIn = (name: string): number | null | undefined =>
      summary.files.find((one) => one.name === name)?.rows;
    expect(count('records')).toBe(rowsIn('calibrations.csv'));
    expect(count('devices')).toBe(rowsIn('assets.csv'));
    expect(count('leaks')).toBe(rowsIn('leaks.csv'));
    expect(preview.firstOn).toBe('2024-01-03');
    const { packs } = await service.call('evidence.packs', {});
    expect(packs.map(({ name, as }) => [name, as])).toEqual([['evidence-2026-11-25-1.zip', 'zip']]);
    expect(await service.runJob('evidence.check', { name: summary.name })).toMatchObject({ sound: true });
    const file = await service.call('evidence.download', { name: summary.name });
    const bytes = readFileSync(file.path ?? '');
    // A byte in the middle of the zip: it does not open, or what is in it is not sound.
    bytes[Math.floor(bytes.length / 2)] ^= 1;
    writeFileSync(file.path ?? '', bytes);
    const proof = await service
      .runJob('evidence.check', { name: summary.name })
      .catch((error: unknown) => error);
    expect(proof).toSatisfy(
      (one: { sound?: boolean; code?: string }) => one.sound === false || one.code === 'file_unreadable',
    );
    await expect(service.call('evidence.download', { name: '..' })).rejects.toMatchObject({
      code: 'not_found',
    });
  });

  it('of days after the last record are empty, as their preview says, and a killed one is swept', async () => {
    const service = await sampleService();
    const scope = packScope.parse({ from: '2026-11-20', tags: ['TC-N1-01'] });
    const preview = await service.runJob('evidence.preview', scope);
    expect(preview.counts.find(({ what }) => what === 'records')?.count).toBe(0);
    expect(preview.counts.find(({ what }) => what === 'leaks')?.count).toBe(0);
    const left = path.join(packsFolder(service.book.file), 'evidence-2026-11-25-1.half-999999999');
    mkdirSync(left, { recursive: true });
    const summary = await service.runJob('evidence.write', { scope, as: 'folder' });
    expect(await service.runJob('evidence.check', { name: summary.name })).toMatchObject({
      sound: true,
      records: 0,
    });
    expect(existsSync(left)).toBe(false);
  });

  it('tell what was intended of a setpoint before it was changed, and which it was', async () => {
    const service = await sampleService();
    const { id } = await service.call('register.find', { tag: 'TC-E1-01' });
    const { values, version } = await service.call('register.device', { id: id ?? 0 });
    // A note may hold what other programs take for the end of a line.
    const cells = { ...values, note: 'pasted\u2028note' };
    await service.call('register.save', { rowClass: 'controller', cells, version });
    const register = await service.call('register.export', {});
    const text = new TextDecoder().decode(register.bytes);
    const all: Record<string, string>[] = parse(text, { columns: true });
    const wanted = all
      .filter((row) => row.class === 'setpoint' && row.tag === 'TC-E1-01')
      .map((row) => (row.role === 'occupied' ? { ...row, dial: '68' } : row));
    const report = await loadRegisterText(service, csvText(Object.keys(all[0]), wanted));
    expect(report.changed).toBe(1);
    const folder = await pack(service, { scope: { tags: ['TC-E1-01'] } });
    const dials = rows(folder, 'setpoints.csv').filter(({ property }) => property === 'dial');
    expect(dials.map(({ role, value, until }) => [role, value, until])).toEqual([
      ['occupied', '71', '2026-11-25'],
      ['occupied', '68', ''],
      ['unoccupied', expect.any(String), ''],
    ]);
    expect(rows(folder, 'events.csv')).toContainEqual(
      expect.objectContaining({ what: 'occupied dial', from: '71', to: '68' }),
    );
    expect((await checkPack(folder)).problems).toEqual([]);
  });

  it('that are cancelled leave nothing, whenever it is', async () => {
    const service = await sampleService();
    const scope = packScope.parse({ main: 'HM-F' });
    const folder = packsFolder(service.book.file);
    let isWritten = false;
    for (let least = 1; !isWritten; least = Math.ceil(least * 1.7)) {
      let asked = 0;
      try {
        await service.runJob(
          'evidence.write',
          { scope, as: 'zip' },
          { cancelled: () => (asked += 1) > least },
        );
        isWritten = true;
      } catch (error) {
        expect(error).toMatchObject({ code: 'cancelled' });
        expect(readdirSync(folder)).toEqual([]);
      }
    }
    expect(readdirSync(folder)).toEqual(['evidence-2026-11-25-1.zip']);
  }, 120_000);

  it('have a report that says what it is, with the head of the chain and the cautions on it', async () => {
    const service = await sampleService();
    const folder = await pack(service, { scope: { building: 'ANNEX' } });
    const text = execFileSync('/usr/bin/pdftotext', ['-layout', path.join(folder, 'report.pdf'), '-'], {
      encoding: 'utf8',
    });
    expect(text).toContain(await headHash(service));
    for (const words of [
      'building ANNEX; all days',
      'licensed practice come first',
      'What is missing',
      'Energy weight of drifted setpoints and faults',
      'Quantities for a retrofit',
      'page 1 of',
    ])
      expect(text).toContain(words);
  });

  it('keep text as text and figures as numbers in the workbook, and the names of what was read exactly', async () => {
    const service = await sampleService();
    const device = await service.book.reader
      .selectFrom('device')
      .select('id')
      .where('tag', '=', 'TC-N1-01')
      .executeTakeFirstOrThrow();
    const { values, version } = await service.call('register.device', { id: device.id });
    await service.call('register.save', {
      rowClass: 'controller',
      cells: { ...values, note: '=HYPERLINK("http://x")' },
      version,
    });
    const folder = await pack(service, { scope: { tags: ['TC-N1-01', 'AS-HALL'] } });
    expect(rows(folder, 'assets.csv').find(({ asset }) => asset === 'TC-N1-01')?.note).toBe(
      `'=HYPERLINK("http://x")`,
    );
    const zip = await openPromise(path.join(folder, 'register.xlsx'), { lazyEntries: true });
    let sheets = '';
    for await (const entry of zip.eachEntry())
      if (entry.fileName.startsWith('xl/worksheets/'))
        for await (const piece of await zip.openReadStreamPromise(entry)) sheets += String(piece);
    expect(sheets).toContain('=HYPERLINK(&quot;http://x&quot;)');
    expect(sheets).not.toContain('<f>');
    // A day is a date: the sheet of the register has the day of going into service as a number of days, told as a date.
    const served = rows(folder, 'assets.csv').find(({ asset }) => asset === 'TC-N1-01')?.in_service_on ?? '';
    const day = Date.parse(served) / 86_400_000 + 25_569;
    expect(sheets).toMatch(new RegExp(`<c r="J\\d+" s="[1-9]\\d*"><v>${day}</v></c>`, 'u'));
    // Its filter covers the rows, not the titles alone.
    const assets = rows(folder, 'assets.csv').length;
    expect(sheets).toMatch(new RegExp(`<autoFilter ref="A1:[A-Z]+${assets + 1}"`, 'u'));
    expect(rows(folder, 'readings.csv').some(({ quantity }) => quantity === 'filter drop, first stage')).toBe(
      true,
    );
    for (const row of rows(folder, 'readings.csv'))
      if (row.phase === 'as_found' && row.error !== '') expect(row.error).toBe(row.error_found);
  });
});
