/** The evidence pack: proved as it stands, red for any byte that is not as it was, and the same drift in another book. */
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  cpSync,
  createWriteStream,
  existsSync,
  mkdirSync,
  readFileSync,
  readdirSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import { parse } from 'csv-parse/sync';
import { describe, expect, it } from 'vitest';
import { openBook, readBook } from '../../db/book.ts';
import { csvText } from '../../service/csv/writeCsv.ts';
import { checkPack } from '../../service/evidence/check.mjs';
import { readingId } from '../../service/evidence/recordTables.ts';
import { packsFolder } from '../../service/evidence/packs.ts';
import { wholeSite } from '../../service/evidence/scope.ts';
import type { PackScope } from '../../service/evidence/scope.ts';
import { PROGRAM_VERSION, writePack } from '../../service/evidence/writePack.ts';
import type { Service } from '../../service/service.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { openPromise } from 'yauzl';
import { ZipFile } from 'yazl';
import type { PackProof } from '../../shared/contract/evidence.ts';
import { provePack } from '../../service/evidence/jobs.ts';
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
import { makeSmallBook } from '../support/smallBook.ts';

const MADE_AT = '2026-11-25T10:00:00Z';

async function pack(
  service: Service,
  {
    scope = {},
    madeAt = MADE_AT,
    cancelled = () => false,
  }: { scope?: Partial<PackScope>; madeAt?: string; cancelled?: () => boolean } = {},
): Promise<string> {
  const folder = path.join(temporaryFolder(), 'pack');
  await readBook(service.book, async (db) =>
    writePack(
      db,
      { folder, scope: { ...wholeSite, ...scope }, madeAt },
      { progress: () => undefined, cancelled },
    ),
  );
  return folder;
}

/** Files of a copy of a pack changed by somebody who makes every hash anew: the files that its proof names. */
async function forged(
  folder: string,
  changes: Readonly<Record<string, (text: string) => string>>,
): Promise<string[]> {
  const copy = path.join(temporaryFolder(), 'copy');
  cpSync(folder, copy, { recursive: true });
  const hash = (bytes: Uint8Array) => createHash('sha256').update(bytes).digest('hex');
  const manifestFile = path.join(copy, 'manifest.json');
  const manifest = JSON.parse(readFileSync(manifestFile, 'utf8')) as {
    files: { name: string; bytes: number; rows: number | null; sha256: string }[];
  };
  for (const [name, change] of Object.entries(changes)) {
    const file = path.join(copy, name);
    writeFileSync(file, change(readFileSync(file, 'utf8')));
    const one = manifest.files.find((own) => own.name === name);
    const bytes = readFileSync(file);
    if (one) Object.assign(one, { bytes: bytes.length, sha256: hash(bytes) });
    if (one && one.rows !== null && name.endsWith('.csv')) one.rows = rows(copy, name).length;
  }
  writeFileSync(manifestFile, `${JSON.stringify(manifest, null, 2)}\n`);
  writeFileSync(path.join(copy, 'manifest.sha256'), `${hash(readFileSync(manifestFile))}  manifest.json\n`);
  return (await checkPack(copy)).problems.map((one) => one.file);
}

const rows = (folder: string, name: string): Record<string, string>[] =>
  parse(readFileSync(path.join(folder, name)), { columns: true, bom: true });

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

  it('with any byte of any file turned is red, and the file is named', async () => {
    const folder = await pack(await sampleService(), { scope: { main: 'HM-F' } });
    const random = createRandom(7);
    for (const name of readdirSync(folder)) {
      const file = path.join(folder, name);
      const sound = readFileSync(file);
      const turned = Buffer.from(sound);
      turned[random.integer(0, turned.length - 1)] ^= 1 << random.integer(0, 7);
      writeFileSync(file, turned);
      const { sound: isSound, problems } = await checkPack(folder);
      expect(isSound, name).toBe(false);
      // The two that hold each other are named as a pair.
      const named = problems.map((one) => `${one.file} ${one.detail}`).join(' ');
      expect(named).toContain(name);
      writeFileSync(file, sound);
    }
    expect(await checkPack(folder)).toMatchObject({ sound: true });
    writeFileSync(path.join(folder, 'more.csv'), 'x\n');
    expect((await checkPack(folder)).problems).toEqual([
      { file: 'more.csv', detail: 'is not in the manifest' },
    ]);
    rmSync(path.join(folder, 'more.csv'));
    rmSync(path.join(folder, 'leaks.csv'));
    expect((await checkPack(folder)).problems).toEqual([{ file: 'leaks.csv', detail: 'is missing' }]);
  });

  it('with a figure changed and every hash made anew is red against its chain, or its own rows', async () => {
    const folder = await pack(await sampleService(), { scope: { tags: ['TC-N1-01'] } });
    const edit = async (name: string, change: (text: string) => string) => forged(folder, { [name]: change });
    expect(await edit('calibrations.csv', (text) => text.replace(/,adjusted,/, ',held,'))).toContain(
      'calibrations.csv',
    );
    const drift = rows(folder, 'drift.csv').find((row) => row.drift !== '' && row.reexpressed === '');
    expect(
      await edit('drift.csv', (text) =>
        text.replace(`,${drift?.days},${drift?.drift},`, `,${drift?.days},${Number(drift?.drift) + 0.5},`),
      ),
    ).toContain('drift.csv');
    // Whatever the tables repeat of a record or a reading is what its entry says.
    const [head, first, ...rest] = readFileSync(path.join(folder, 'calibrations.csv'), 'utf8').split('\r\n');
    const at = (name: string): number => head.split(',').indexOf(name);
    const changed = (name: string, value: string): string => {
      const cells = first.split(',');
      cells[at(name)] = value;
      return [head, cells.join(','), ...rest].join('\r\n');
    };
    for (const [name, value] of [
      ['tolerance', '9'],
      ['verdict_found', 'outside'],
      ['intended_value', '99'],
      ['quality', 'retracted'],
      ['asset', 'TC-N1-02'],
      ['method', 'typed'],
      ['doubt_k2', '0.001'],
    ])
      expect(await edit('calibrations.csv', () => changed(name, value)), name).toContain('calibrations.csv');
    expect(await edit('calibrations.csv', () => [head, ...rest].join('\r\n'))).toContain('calibrations.csv');
    const reading = rows(folder, 'readings.csv')[0];
    for (const change of [
      (text: string) => text.replace(`,${reading.value},`, ',99.9,'),
      (text: string) => text.replace(',as_found,', ',as_left,'),
      (text: string) => text.split('\r\n').slice(0, 1).join('\r\n').concat('\r\n'),
    ])
      expect(await edit('readings.csv', change)).toContain('readings.csv');
    expect(
      await edit('drift.csv', (text) =>
        text.replace(`,${drift?.days},${drift?.drift},`, `,${drift?.days},,`),
      ),
    ).toContain('drift.csv');
    expect(await edit('drift.csv', (text) => `${text.split('\r\n')[0]}\r\n`)).toContain('drift.csv');
    expect(await edit('chain.jsonl', (text) => text.split('\n').slice(1).join('\n'))).toContain(
      'chain.jsonl',
    );
  });

  it('is red when visits are left out, doubled, moved or invented', async () => {
    const service = await sampleService();
    const folder = await pack(service, { scope: { main: 'AM-E', from: '2023-01-01' } });
    const change =
      (edit: (all: Record<string, string>[]) => Record<string, string>[], name: string) => (): string =>
        csvText(Object.keys(rows(folder, name)[0]), edit(rows(folder, name)));
    const without = (tag: string) => (all: Record<string, string>[]) =>
      all.filter(({ asset }) => asset !== tag);
    const tables = ['readings.csv', 'calibrations.csv', 'drift.csv'];
    const everywhere = (edit: (all: Record<string, string>[]) => Record<string, string>[]) =>
      Object.fromEntries(tables.map((name) => [name, change(edit, name)]));
    expect(await forged(folder, {})).toEqual([]);
    // All records of one controller, or of everybody, in every table.
    expect(await forged(folder, everywhere(without('TC-E1-01')))).toContain('calibrations.csv');
    expect(
      await forged(
        folder,
        everywhere(() => []),
      ),
    ).toContain('calibrations.csv');
    // Two controllers that change places.
    const swap: Record<string, string> = { 'TC-E1-01': 'TC-E1-02', 'TC-E1-02': 'TC-E1-01' };
    expect(
      await forged(
        folder,
        everywhere((all) => all.map((row) => ({ ...row, asset: swap[row.asset] ?? row.asset }))),
      ),
    ).toContain('calibrations.csv');
    for (const [words, edit] of [
      [
        'all by day, with drifts of one size',
        (all) =>
          all
            .map((row): Record<string, string> => ({ ...row, drift: '0.042' }))
            .toSorted((a, b) => a.observed_on.localeCompare(b.observed_on)),
      ],
      [
        'every drift of one size',
        (all) => all.map((row) => ({ ...row, drift: '0.033', rate_per_year: '0.033', days: '365' })),
      ],
      [
        'a series of its own for each',
        (all) => all.map((row, index) => ({ ...row, series: String(index), drift: '' })),
      ],
      ['moved to another basis', (all) => all.map((row) => ({ ...row, reexpressed: '0.5' }))],
      ['nothing as left', (all) => all.map((row) => ({ ...row, error_left: '' }))],
      ['a visit twice', (all) => [...all, all[0]]],
    ] as [string, (all: Record<string, string>[]) => Record<string, string>[]][])
      expect(await forged(folder, { 'drift.csv': change(edit, 'drift.csv') }), words).toContain('drift.csv');
    // What a reader of tables sees and this one would not: a last row without an end, a title that stands twice.
    const drift = rows(folder, 'drift.csv').at(-1) ?? {};
    const row = csvText(Object.keys(drift), [drift], false).trimEnd();
    expect(await forged(folder, { 'drift.csv': (text) => `${text}${row}` })).toContain('drift.csv');
    expect(await forged(folder, { 'drift.csv': (text) => text.replace('error_found', 'drift') })).toContain(
      'drift.csv',
    );
    // A reading without a property, beside those of its record.
    const readings = (all: Record<string, string>[]) => [
      ...all.slice(0, 1),
      { ...all[0], property: '', value: '99' },
      ...all.slice(1),
    ];
    expect(await forged(folder, { 'readings.csv': change(readings, 'readings.csv') })).toContain(
      'readings.csv',
    );
    // A replacement that nobody made, and one that is kept quiet.
    const whole = await pack(service);
    const replacement = rows(whole, 'readings.csv').findLast(({ property }) => property === 'replacement');
    const columns = Object.keys(rows(whole, 'readings.csv')[0]);
    const replacements = async (edit: (all: Record<string, string>[]) => Record<string, string>[]) =>
      forged(whole, { 'readings.csv': () => csvText(columns, edit(rows(whole, 'readings.csv'))) });
    expect(await replacements((all) => all.slice(0, -1))).toEqual(['readings.csv']);
    expect(await replacements((all) => [...all, { ...replacement, observed_on: '2020-02-02' }])).toEqual([
      'readings.csv',
    ]);
    // A manifest that is none, and one that leaves a table out.
    writeFileSync(path.join(whole, 'manifest.json'), '{}\n');
    expect((await checkPack(whole)).problems).toContainEqual({
      file: 'manifest.json',
      detail: 'is not the manifest of a pack',
    });
  }, 240_000);

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

it('the pack of a book with an entry of every kind is red for every column, but those that nothing in the chain tells', async () => {
  const file = path.join(temporaryFolder(), 'small.book');
  await makeSmallBook(file);
  const book = await openBook(file);
  const folder = path.join(temporaryFolder(), 'pack');
  const hooks = { progress: () => undefined, cancelled: () => false };
  await readBook(book, async (db) => writePack(db, { folder, scope: wholeSite, madeAt: MADE_AT }, hooks));
  await book.close();
  expect((await checkPack(folder)).problems).toEqual([]);
  const readings = rows(folder, 'readings.csv');
  const other = (cell: string): string =>
    cell === 'yes' ? '' : /^-?[\d.]+$/u.test(cell) ? String(Number(cell) + 1) : `${cell}x`;
  const silent: Record<string, string[]> = {};
  for (const name of ['readings.csv', 'calibrations.csv', 'drift.csv']) {
    const all = rows(folder, name);
    const columns = Object.keys(all[0]);
    silent[name] = [];
    for (const column of columns)
      for (const [at, row] of all.entries()) {
        // An empty cell may be filled, a full one changed: each once, in the first row that has it so.
        if (at !== all.findIndex((one) => (one[column] === '') === (row[column] === ''))) continue;
        const wrong = { ...row, [column]: other(row[column]) };
        // Whoever changes what a record says changes it wherever it is repeated.
        const isRepeated = name === 'calibrations.csv' && column !== 'record_id' && column in readings[0];
        const repeated = readings.map((one) =>
          one.record_id === row.record_id ? { ...one, [column]: wrong[column] } : one,
        );
        const problems = await forged(folder, {
          [name]: () => csvText(columns, all.with(at, wrong)),
          ...(isRepeated && { 'readings.csv': () => csvText(Object.keys(readings[0]), repeated) }),
        });
        if (problems.length === 0 && !silent[name].includes(column)) silent[name].push(column);
      }
  }
  expect(silent).toEqual({
    'readings.csv': [],
    // Where a device stands is the register’s, which is not in the chain.
    'calibrations.csv': [
      'site',
      'building',
      'level',
      'room',
      'main',
      'tz',
      'intended_since',
      'pressure_unit',
    ],
    'drift.csv': [],
  });
}, 120_000);

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

  it('are proved out of a zip of any name and maker, and out of nothing that stands beside', async () => {
    const service = await sampleService();
    const folder = await pack(service, { scope: { tags: ['TC-N1-01'] } });
    const names = readdirSync(folder);
    const zipped = async (entries: readonly [name: string, file: string | null][]): Promise<PackProof> => {
      const zip = new ZipFile();
      for (const [name, file] of entries)
        if (file === null) zip.addEmptyDirectory(name);
        else zip.addFile(file, name);
      zip.end();
      const target = path.join(temporaryFolder(), 'made elsewhere.zip');
      await pipeline(zip.outputStream, createWriteStream(target));
      return provePack(target, 'zip', { progress: () => undefined, cancelled: () => false });
    };
    const under = (directory: string) =>
      names.map((name): [string, string] => [`${directory}${name}`, path.join(folder, name)]);
    expect((await zipped(under(''))).problems).toEqual([]);
    expect((await zipped([['Prüfung 2026.5/', null], ...under('Prüfung 2026.5/')])).problems).toEqual([]);
    const drift = path.join(folder, 'drift.csv');
    for (const more of ['aa/drift.csv', 'pack/drift.csv', 'pack/deep/drift.csv', 'drift.csv'])
      expect((await zipped([[more, drift], ...under('pack/')])).sound, more).toBe(false);
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
