/** The proof of an evidence pack: red for whatever is not as it was, by its hashes, its chain or its own rows, and for nothing else. */
import { createWriteStream, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createBook, writeBook } from '../../db/book.ts';
import { refreshDerived } from '../../db/derived.ts';
import { appendCalibrations, appendReplacement } from '../../db/records.ts';
import type { NewRecord } from '../../db/records.ts';
import { addController, startLargeBook } from '../../scripts/largeBook.ts';
import { addDays } from '../../shared/dates/plainDate.ts';
import { METHOD_VERSION } from '../../shared/trade/words.ts';
import { csvText } from '../../service/csv/writeCsv.ts';
import { checkPack, rowsOf } from '../../service/evidence/check.mjs';
import { createRandom } from '../../shared/planning/random.ts';
import { ZipFile } from 'yazl';
import type { PackProof } from '../../shared/contract/evidence.ts';
import { provePack } from '../../service/evidence/jobs.ts';
import { sampleService, serviceOver, temporaryFolder } from '../support/books.ts';
import { makeSmallBook } from '../support/smallBook.ts';
import { forged, pack, rows } from '../support/packs.ts';

const CONTROLLERS = 60;

describe('the proof of a pack', () => {
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
      ['bounds for figures', (all) => all.map((row) => ({ ...row, found_relation: '>=' }))],
      [
        'a blank for nothing',
        (all) => all.map((row) => ({ ...row, adjustment: row.adjustment === '0' ? ' ' : row.adjustment })),
      ],
      [
        'days in hexadecimal',
        (all) => all.map((row) => ({ ...row, days: row.days && `0x${Number(row.days).toString(16)}` })),
      ],
    ] as [string, (all: Record<string, string>[]) => Record<string, string>[]][])
      expect(await forged(folder, { 'drift.csv': change(edit, 'drift.csv') }), words).toContain('drift.csv');
    // What a reader of tables sees and this one would not: a last row without an end, a title that stands twice.
    const drift = rows(folder, 'drift.csv').at(-1) ?? {};
    const row = csvText(Object.keys(drift), [drift], false).trimEnd();
    expect(await forged(folder, { 'drift.csv': (text) => `${text}${row}` })).toContain('drift.csv');
    expect(await forged(folder, { 'drift.csv': (text) => text.replace('error_found', 'drift') })).toContain(
      'drift.csv',
    );
    // A column more, which a reader would take for proved; a key more in the chain; figures as text.
    const withColumn = (text: string): string =>
      text.replaceAll(
        /(.)\r\n/g,
        (_, last: string, at: number) => `${last},${at < 1_000 ? 'true_error' : '1'}\r\n`,
      );
    for (const name of tables) expect(await forged(folder, { [name]: withColumn }), name).toContain(name);
    for (const change of [
      (text: string) => text.replaceAll('{"seq":', '{"note":"x","seq":'),
      (text: string) => text.replaceAll('{"seq":', '{"seq":0,"seq":'),
      (text: string) => text.replaceAll(/"record":\d+/g, '"record":777'),
      (text: string) => text.replace('\n', '\n\n'),
    ])
      expect(await forged(folder, { 'chain.jsonl': change })).toContain('chain.jsonl');
    const records = rows(folder, 'calibrations.csv');
    const columns = Object.keys(records[0]).flatMap((column) =>
      column === 'building' ? ['building,level'] : column === 'level' ? [] : [column],
    );
    expect(await forged(folder, { 'calibrations.csv': () => csvText(columns, records) })).toContain(
      'calibrations.csv',
    );
    expect(
      await forged(folder, { 'drift.csv': (text) => text.replaceAll(/,(0\.\d+),/g, ',$1000000001,') }),
    ).toContain('drift.csv');
    expect(
      await forged(folder, { 'drift.csv': (text) => text.replaceAll(/,(-0\.\d+),/g, ",'$1,") }),
    ).toContain('drift.csv');
    // A comma that became a quote: the record has no end, and no other table is blamed.
    const table = path.join(folder, 'readings.csv');
    const sound = readFileSync(table, 'utf8');
    writeFileSync(table, sound.replace(/\r\n([^,]+),/, '\r\n$1,"'));
    expect(new Set((await checkPack(folder)).problems.map(({ file }) => file))).toEqual(
      new Set(['readings.csv']),
    );
    writeFileSync(table, sound);
    // A reading without a property, beside those of its record.
    const readings = (all: Record<string, string>[]) => [
      ...all.slice(0, 1),
      { ...all[0], property: '', value: '99' },
      ...all.slice(1),
    ];
    expect(await forged(folder, { 'readings.csv': change(readings, 'readings.csv') })).toContain(
      'readings.csv',
    );
    const whole = await pack(service);
    // A bound where nothing was read, and another site, wherever they are repeated.
    const repeated = (edit: (row: Record<string, string>) => Record<string, string>) =>
      forged(
        whole,
        Object.fromEntries(
          ['readings.csv', 'calibrations.csv'].map((name) => {
            const table = rows(whole, name);
            const edited = table.map((row) => (row.property === 'replacement' ? row : edit(row)));
            return [name, () => csvText(Object.keys(table[0]), edited)];
          }),
        ),
      );
    expect(
      await repeated((row) => (row.error_found === '' ? { ...row, found_relation: '>=' } : row)),
    ).toContain('calibrations.csv');
    expect(await repeated((row) => ({ ...row, site: 'Elsewhere' }))).toContain('calibrations.csv');
    // Visits without a reading left out.
    const all = rows(whole, 'drift.csv');
    const read = all.filter((row) => row.error_found !== '' || row.error_left !== '');
    expect(read.length).toBeLessThan(all.length);
    expect(await forged(whole, { 'drift.csv': () => csvText(Object.keys(all[0]), read) })).toContain(
      'drift.csv',
    );
    // A replacement that nobody made, and one that is kept quiet.
    const replacement = rows(whole, 'readings.csv').findLast(({ property }) => property === 'replacement');
    const titles = Object.keys(rows(whole, 'readings.csv')[0]);
    const replacements = async (edit: (all: Record<string, string>[]) => Record<string, string>[]) =>
      forged(whole, { 'readings.csv': () => csvText(titles, edit(rows(whole, 'readings.csv'))) });
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
});

it('the pack of a book with an entry of every kind is red for every column, but those that nothing in the chain tells', async () => {
  const file = path.join(temporaryFolder(), 'small.book');
  await makeSmallBook(file);
  const folder = await pack(await serviceOver(file));
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
    'calibrations.csv': ['building', 'level', 'room', 'main', 'tz', 'intended_since', 'pressure_unit'],
    'drift.csv': [],
  });
}, 120_000);

/** Histories as they may come: bounds, repairs, replacements, corrections, other pressures, gains and actions, two on a day. */
async function randomBook(file: string, seed: number): Promise<void> {
  const random = createRandom(seed);
  const one = <T>(...of: readonly T[]): T => of[random.integer(0, of.length - 1)];
  const book = await createBook(file);
  await writeBook(book, async (db) => {
    const places = await startLargeBook(db);
    const devices: number[] = [];
    for (let at = 0; at < CONTROLLERS; at += 1) {
      const { device, point } = await addController(db, places, at);
      devices.push(device);
      const [usual, visits] = [random.integer(0, 2), random.integer(1, 14)];
      let day = addDays('2019-01-01', random.integer(0, 900));
      const records: NewRecord[] = [];
      const [replacedOn, reason] = [new Set<string>(), 'worn out'];
      for (let visit = 0; visit < visits; visit += 1) {
        day = addDays(day, one(0, 1, 30, 180, 365, 400));
        if (random.integer(0, 9) === 0) replacedOn.add(addDays(day, one(0, 0, 10)));
        const changed = random.integer(0, 4) === 0;
        const relation = one('=', '=', '=', '=', '>=', '<=', null);
        const found = relation === null ? null : random.integer(-4_000, 4_000);
        const left = one(found, found, random.integer(-900, 900), null);
        records.push({
          calibration: {
            test_point_id: point,
            done_on: day,
            ended_at: `${day}T10:00:00Z`,
            person_id: places.person,
            outcome: left === found ? 'held' : 'adjusted',
            source: 'sample',
            unit: 'degF',
            method: one('M1', 'M2', 'M3', 'typed', null),
            method_version: METHOD_VERSION,
            decision_rule: 'simple acceptance',
            error_found_milli: found,
            found_relation: relation,
            error_left_milli: left,
            left_relation: left === null ? null : left === found ? relation : '=',
            supply_right: one(1, 1, 1, 0),
            snapshot_json: JSON.stringify({
              tag: `TC-${String(at).padStart(6, '0')}`,
              kind: 'setpoint',
              action: changed ? one('direct', 'reverse') : 'direct',
              dialMilli: 71_000,
              throttlingRangeMilli: changed || usual === 1 ? one(4_000, 5_000) : 4_000,
              outputLowMilli: 3_000,
              outputHighMilli: 13_000,
              calibrationPressureMilli: changed || usual === 2 ? one(8_000, 9_000, null) : 8_000,
              toleranceMilli: 1_000,
              ticks: { repaired: random.integer(0, 11) === 0 },
            }),
          },
          readings: [{ phase: 'found', quantity: 'main pressure', value_milli: 20_000, unit: 'psi' }],
        });
      }
      await appendCalibrations(db, records);
      for (const on_date of replacedOn)
        await appendReplacement(db, { device_id: device, on_date, reason }, '2026-01-01T00:00:00Z');
    }
    await refreshDerived(db, devices);
  });
  await book.close();
}

it('of histories of every kind, over all days and over some, holds', async () => {
  let moved = 0;
  for (let seed = 1; seed <= 4; seed += 1) {
    const file = path.join(temporaryFolder(), 'random.book');
    await randomBook(file, seed);
    const service = await serviceOver(file);
    for (const scope of [
      {},
      { from: '2021-01-01' },
      { to: '2022-06-30' },
      { from: '2020-06-01', to: '2023-01-31' },
    ]) {
      const folder = await pack(service, { scope });
      expect((await checkPack(folder)).problems, `${seed} ${JSON.stringify(scope)}`).toEqual([]);
      moved += rows(folder, 'drift.csv').filter(
        (row) => row.reexpressed !== '' || (row.carried !== row.error_left && row.carried !== ''),
      ).length;
    }
  }
  expect(moved).toBeGreaterThan(100);
}, 240_000);

it('reads CSV as it is written, whatever stands in a cell, and refuses what is no table', async () => {
  const file = path.join(temporaryFolder(), 'table.csv');
  const readAs = async (text: string): Promise<Record<string, string>[]> => {
    writeFileSync(file, text);
    const read: Record<string, string>[] = [];
    for await (const row of rowsOf(file)) read.push(row);
    return read;
  };
  const cell = fc.string({ unit: fc.constantFrom('a', '"', ',', '\n', '\r', "'", '=', '\u2028', ' ', 'é') });
  await fc.assert(
    fc.asyncProperty(fc.array(fc.record({ one: cell, two: cell, three: cell })), async (table) => {
      const plain = table.map((row) => ({ ...row }));
      expect(await readAs(csvText(['one', 'two', 'three'], plain))).toEqual(plain);
    }),
    { numRuns: 300 },
  );
  const long = [{ one: `a,"\n${'x'.repeat(2_000_000)}`, two: '', three: '' }];
  expect(await readAs(csvText(['one', 'two', 'three'], long))).toEqual(long);
  for (const wrong of ['a,b\r\n1\r\n', 'a,b\r\n1,2', 'a,b\r\n"1,2\r\n', 'a,a\r\n1,2\r\n'])
    await expect(readAs(wrong), wrong).rejects.toThrow();
});
