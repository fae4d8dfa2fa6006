import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  emptyService,
  headHash,
  loadRegisterText,
  plainFileStyle,
  sampleService,
  upload,
} from '../support/books.ts';

const metric = readFileSync(new URL('../register/files/riverside-metric.csv', import.meta.url));
const metricStyle = {
  pressure: 'kPa',
  temperature: 'degC',
  dates: 'dmy',
  decimals: 'comma',
  encoding: 'utf-8',
} as const;

const start = 'class,tag,building,level,room,in_service_on,fed_by,regulator_kind,main_kind,low_pressure\n';
const rows = `${start}building,,B,,,,,,,\nlevel,,B,1,,,,,,\nroom,,B,1,R1,,,,,\nair_station,AS-1,B,1,,1990-01-01,,,,\nregulator,PRV-1,B,1,,1990-01-01,AS-1,single,,20\nmain,M-1,B,,,,PRV-1,,single,20\n`;

/** Loads an export into an empty book; tells whether that book exports the same bytes. */
async function copied(exported: Uint8Array) {
  const other = await emptyService();
  const report = await other.runJob('register.load', {
    files: [upload('register.csv', exported)],
    style: plainFileStyle,
    dryRun: false,
  });
  const { bytes } = await other.call('register.export', {});
  return { report, isEqual: Buffer.from(bytes).equals(Buffer.from(exported)) };
}

describe('loading', () => {
  it('a hand-made register in semicolons, kPa, degC and decimal comma loads, exports and loads back equal', async () => {
    const service = await emptyService();
    const load = (bytes: Uint8Array, style: object, dryRun = false) =>
      service.runJob('register.load', {
        files: [upload('riverside-metric.csv', bytes)],
        style: { ...plainFileStyle, ...style },
        dryRun,
      });
    const dry = await load(metric, metricStyle, true);
    expect([dry.problems, dry.added > 40]).toEqual([[], true]);
    expect((await service.call('register.list', {})).total).toBe(0);
    const report = await load(metric, metricStyle);
    expect([report.added, report.changed, report.problems]).toEqual([dry.added, 0, []]);
    const copy = await copied((await service.call('register.export', {})).bytes);
    expect([copy.report.added, copy.report.problems, copy.isEqual]).toEqual([report.added, [], true]);
    const same = await load(metric, metricStyle);
    expect([same.added, same.changed, same.unchanged]).toEqual([0, 0, report.added]);
    expect(same.message).toContain('nothing was changed');
  });

  it.each([
    ['a line feed', '\n'],
    ['a carriage return', '\r'],
    ['both', '\r\n'],
  ])('a note with %s in it exports and loads back equal', async (_what, lineBreak) => {
    const service = await emptyService();
    const note = `"first${lineBreak}second; ""third"""`;
    await loadRegisterText(service, `class,building,name,note\nbuilding,B,Hall,${note}\n`);
    const copy = await copied((await service.call('register.export', {})).bytes);
    expect([copy.report.added, copy.report.problems, copy.isEqual]).toEqual([1, [], true]);
  });

  it('the sample register exports and loads back identically, and again changes nothing', async () => {
    const service = await sampleService();
    const exported = (await service.call('register.export', {})).bytes;
    const before = await headHash(service);
    const same = await service.runJob('register.load', {
      files: [upload('register.csv', exported)],
      style: plainFileStyle,
      dryRun: false,
    });
    expect([same.added, same.changed, same.message.includes('nothing was changed')]).toEqual([0, 0, true]);
    expect(await headHash(service)).toBe(before);
    expect((await copied(exported)).isEqual).toBe(true);
  });

  it('takes several files at once, in any order, with a byte order mark, tabs and quoted line breaks', async () => {
    const service = await emptyService();
    const devices = `\uFEFF${start.replaceAll(',', '\t').trim()}\tnote\nair_station\tAS-1\tB\t1\t\t1990-01-01\t\t\t\t\t"two\nlines"\n`;
    const report = await service.runJob('register.load', {
      files: [
        upload('devices.tsv', devices),
        upload('places.csv', 'class,building,level\nlevel,B,1\nbuilding,B,\n'),
      ],
      style: plainFileStyle,
      dryRun: false,
    });
    expect([report.problems, report.added]).toEqual([[], 3]);
    const { id } = await service.call('register.find', { tag: 'AS-1' });
    expect((await service.call('register.device', { id: id ?? 0 })).values.note).toBe('two\nlines');
  });

  it('reads Windows-1252 when it is declared', async () => {
    const service = await emptyService();
    const bytes = Buffer.from('class,building,name\nbuilding,B,Caf\xe9 Gr\xf6\xdfe\n', 'latin1');
    const load = (encoding: 'utf-8' | 'windows-1252') =>
      service.runJob('register.load', {
        files: [upload('a.csv', bytes)],
        style: { ...plainFileStyle, encoding },
        dryRun: false,
      });
    expect((await load('utf-8')).problems).toMatchObject([
      { file: 'a.csv', line: 2, reason: expect.stringContaining('not UTF-8') },
    ]);
    expect((await load('windows-1252')).added).toBe(1);
    expect(new TextDecoder().decode((await service.call('register.export', {})).bytes)).toContain(
      'Café Größe',
    );
  });

  it('an update changes only the columns of the file, and is kept as changes of settings', async () => {
    const service = await emptyService();
    await loadRegisterText(service, rows);
    const report = await loadRegisterText(
      service,
      'class,tag,name,pressure_unit,low_pressure\nmain,M-1,West,psi,21.5\n',
    );
    expect([report.added, report.changed, report.problems]).toEqual([0, 1, []]);
    const { id } = await service.call('register.find', { tag: 'M-1' });
    const page = await service.call('register.device', { id: id ?? 0 });
    expect(page.values).toMatchObject({ low_pressure: '21.5', name: 'West', fed_by: 'PRV-1' });
    expect(page.changes.map((change) => [change.what, change.from, change.to])).toEqual([
      ['low_pressure', '20', '21.5'],
      ['name', null, 'West'],
    ]);
    await headHash(service);
  });

  it('a text that a spreadsheet would run as a formula is guarded on the way out and whole on the way back', async () => {
    const service = await emptyService();
    await loadRegisterText(service, "class,building,name,note\nbuilding,B,=1+1,'-quoted\n");
    const text = new TextDecoder().decode((await service.call('register.export', {})).bytes);
    expect(text).toContain("'=1+1");
    const other = await emptyService();
    await loadRegisterText(other, text);
    expect(new TextDecoder().decode((await other.call('register.export', {})).bytes)).toBe(text);
  });
});

describe('bad input is listed whole, and changes nothing', () => {
  const cases: [string, string | Uint8Array, Record<string, unknown>[]][] = [
    [
      'not text',
      Buffer.from([1, 0, 2, 3]),
      [{ line: 1, reason: expect.stringContaining('not a text file') }],
    ],
    ['empty', '', [{ reason: 'the file is empty' }]],
    ['no header', '1,2,3\n4,5,6\n', [{ line: 1, reason: expect.stringContaining('no header') }]],
    ['a header and nothing else', start, [{ reason: expect.stringContaining('no rows') }]],
    [
      'an unknown and a doubled column',
      'class,building,colour,building\nbuilding,B,red,B\n',
      [
        { column: 'colour', reason: 'unknown column' },
        { column: 'building', reason: expect.stringContaining('twice') },
      ],
    ],
    [
      'a ragged row',
      'class,building\nbuilding,B,extra\n',
      [{ line: 2, value: '3 cells', reason: 'the header has 2 columns' }],
    ],
    [
      'an open quotation mark',
      'class,building\nbuilding,"B\n',
      [{ reason: expect.stringContaining('quotation marks') }],
    ],
    ['a class that there is not', 'class,tag\nboiler,B-1\n', [{ line: 2, column: 'class', value: 'boiler' }]],
    [
      'a tag twice',
      `${rows}main,M-1,B,,,,PRV-1,,single,20\n`,
      [{ line: 8, column: 'tag', value: 'M-1', reason: expect.stringContaining('line 7') }],
    ],
    [
      'a dangling supply',
      rows.replace('PRV-1,,single,20', 'PRV-9,,single,20'),
      [{ line: 7, column: 'fed_by', reason: 'no device has the tag PRV-9' }],
    ],
    [
      'a supply loop',
      `${rows}regulator,PRV-2,B,1,,1990-01-01,PRV-3,single,,20\nregulator,PRV-3,B,1,,1990-01-01,PRV-2,single,,20\n`,
      [
        { line: 8, reason: expect.stringContaining('loop') },
        { line: 9, reason: expect.stringContaining('loop') },
      ],
    ],
    [
      'a supply of the wrong kind',
      rows.replace('PRV-1,,single,20', 'AS-1,,single,20'),
      [{ line: 7, column: 'fed_by', reason: expect.stringContaining('does not feed') }],
    ],
    [
      'a number out of range',
      rows.replace('AS-1,single,,20', 'AS-1,single,,900'),
      [{ line: 6, column: 'low_pressure', value: '900', reason: 'out of range: 0 to 150 psi' }],
    ],
    [
      'a figure that is none',
      rows.replace('AS-1,single,,20', 'AS-1,single,,twenty'),
      [{ line: 6, column: 'low_pressure', value: 'twenty' }],
    ],
    [
      'a decimal comma that was not declared',
      rows.replace('AS-1,single,,20', 'AS-1,single,,"20,5"'),
      [{ line: 6, value: '20,5', reason: expect.stringContaining('decimal point') }],
    ],
    [
      'a date that does not exist',
      rows.replace('1990-01-01,,,,', '1990-02-30,,,,'),
      [{ line: 5, column: 'in_service_on', value: '1990-02-30' }],
    ],
    [
      'a date of another style',
      rows.replace('1990-01-01,,,,', '01/01/1990,,,,'),
      [{ line: 5, value: '01/01/1990', reason: expect.stringContaining('declared style') }],
    ],
    [
      'a place that is not there',
      rows.replace('room,,B,1,R1', 'room,,C,1,R1'),
      [{ line: 4, column: 'building', value: 'C' }],
    ],
    [
      'a cell where the class has no such column',
      rows.replace('building,,B,,,,,,,', 'building,,B,,,,,,,20'),
      [{ line: 2, column: 'low_pressure' }],
    ],
    [
      'a missing cell',
      rows.replace('AS-1,single,,20', 'AS-1,,,20'),
      [{ line: 6, column: 'regulator_kind', value: '', reason: 'needed on a regulator row' }],
    ],
    [
      'several at once, in order',
      rows.replace('1990-01-01,,,,', '1990-02-30,,,,').replace('AS-1,single,,20', 'AS-1,triple,,900'),
      [{ line: 5 }, { line: 6, column: 'regulator_kind' }, { line: 6, column: 'low_pressure' }],
    ],
    [
      'cells, rules of the row and references in one go',
      rows
        .replace('1990-01-01,,,,', '1990-02-30,,,,')
        .replace('AS-1,single,,20', 'AS-9,single,,900')
        .replace('main,M-1,B,,,,PRV-1,,single,20', 'main,M-1,C,,,,PRV-1,,two-pressure,20'),
      [
        { line: 5, column: 'in_service_on' },
        { line: 6, column: 'low_pressure' },
        { line: 6, column: 'fed_by', reason: 'no device has the tag AS-9' },
        { line: 7, column: 'high_pressure', reason: 'needed for a two-pressure main' },
        { line: 7, column: 'low_means' },
        { line: 7, column: 'high_means' },
        { line: 7, column: 'building', value: 'C' },
      ],
    ],
    [
      'nothing is said of tags that may stand in rows that could not be read',
      rows.replace('regulator,PRV-1', 'reg,PRV-1'),
      [{ line: 6, column: 'class', value: 'reg' }],
    ],
    [
      'lines are counted through quoted line breaks of every kind',
      'class,building,name\r\nbuilding,B,"a\r\nb\r\nc"\r\nbuildin,C,x\r\n',
      [{ line: 5, column: 'class', value: 'buildin' }],
    ],
    [
      'mixed line ends',
      'class,building,name\r\nbuilding,B,b\nbuildin,C,x\n',
      [{ line: 3, column: 'class', value: 'buildin' }],
    ],
    [
      'a tag with a character that does not show',
      rows.replace('regulator,PRV-1', 'regulator,PRV\u200b-1').replace('PRV-1,,single,20', ',,single,20'),
      [{ line: 6, column: 'tag', reason: expect.stringContaining('does not show') }],
    ],
    [
      'a very long cell is shown by its beginning',
      rows.replace('AS-1,single,,20', `AS-1,single,,${'9'.repeat(3000)}`),
      [{ line: 6, value: `${'9'.repeat(80)}… (3000 characters)` }],
    ],
    [
      'a supply retired under what it feeds',
      rows
        .replace('in_service_on,', 'in_service_on,retired_on,')
        .replaceAll('1990-01-01,', '1990-01-01,,')
        .replace(/^(building|level|room|main)(,[^,]*,[^,]*,[^,]*,[^,]*),/gm, '$1$2,,')
        .replace('PRV-1,B,1,,1990-01-01,,', 'PRV-1,B,1,,1990-01-01,2001-01-01,'),
      [{ line: 6, column: 'retired_on', reason: expect.stringContaining('still feeds M-1;') }],
    ],
  ];
  it.each(cases)('%s', async (_name, content, problems) => {
    const service = await emptyService();
    await loadRegisterText(service, 'class,building\nbuilding,KEEP\n');
    const before = [
      await headHash(service),
      Buffer.from((await service.call('register.export', {})).bytes).toString(),
    ];
    const report = await service.runJob('register.load', {
      files: [upload('a.csv', content)],
      style: plainFileStyle,
      dryRun: false,
    });
    expect(report.problems).toMatchObject(problems.map((problem) => ({ file: 'a.csv', ...problem })));
    expect(report.problems).toHaveLength(problems.length);
    expect([report.added, report.changed]).toEqual([0, 0]);
    expect([
      await headHash(service),
      Buffer.from((await service.call('register.export', {})).bytes).toString(),
    ]).toEqual(before);
  });

  it('a unit is never changed under figures that stay', async () => {
    const service = await sampleService();
    const report = await loadRegisterText(
      service,
      'class,tag,pressure_unit,rated_low\ncontroller,TC-N1-01,kPa,90\nsetpoint,TC-N1-01,psi,\n',
    );
    expect(report.problems.map((problem) => problem.column)).toEqual(
      expect.arrayContaining(['rated_high', 'role']),
    );
    const declared = await loadRegisterText(service, 'class,tag,low_pressure\nmain,HM-N,90\n', {
      pressure: 'kPa',
    });
    expect(declared.problems).toMatchObject([
      { column: 'pressure_unit', reason: expect.stringContaining('the book holds this row in psi') },
      { column: 'high_pressure' },
    ]);
  });

  it('a main is not retired under controllers, nor a controller put on a retired main', async () => {
    const service = await sampleService();
    const alone = await loadRegisterText(service, 'class,tag,retired_on\nmain,HM-N,2020-01-01\n');
    expect(alone.problems).toMatchObject([
      {
        line: 2,
        column: 'retired_on',
        reason: expect.stringMatching(/^still feeds .*TC-N1-01.* and \d+ more;/),
      },
    ]);
    const other = await emptyService();
    await loadRegisterText(other, rows);
    await loadRegisterText(other, 'class,tag,retired_on\nmain,M-1,2020-01-01\n');
    const put = await loadRegisterText(
      other,
      'class,tag,building,fed_by,main_kind,low_pressure\nmain,M-2,B,M-1,single,20\n',
    );
    expect(put.problems).toMatchObject([{ line: 2, column: 'fed_by', reason: 'M-1 is retired' }]);
  });

  it('a stated calibration pressure lies in the output range', async () => {
    const report = await loadRegisterText(
      await sampleService(),
      'class,tag,role,pressure_unit,temperature_unit,output_low,output_high,calibration_basis,calibration_pressure,action,dial,throttling_range\n' +
        'setpoint,TC-N1-01,occupied,psi,degF,3,13,stated,13.1,direct,72,4\n' +
        'setpoint,TC-N1-01,unoccupied,psi,degF,3,13,stated,13,direct,62,4\n',
    );
    expect(report.problems).toMatchObject([
      { line: 2, column: 'calibration_pressure', reason: expect.stringContaining('never delivers') },
    ]);
  });

  it('the kind of a controller with setpoints cannot change under them', async () => {
    const report = await loadRegisterText(
      await sampleService(),
      'class,tag,controller_kind\ncontroller,TC-N1-01,single\n',
    );
    expect(report.problems.map((problem) => problem.column)).toEqual(['controller_kind', 'controller_kind']);
  });
});

describe('forms', () => {
  it('save through the same checks, and say which field', async () => {
    const service = await emptyService();
    await loadRegisterText(service, rows);
    const cells = {
      tag: 'TC-1',
      building: 'B',
      room: 'R1',
      in_service_on: '2020-01-01',
      controller_kind: 'two-setpoint',
      fed_by: 'M-1',
    };
    await expect(
      service.call('register.save', { rowClass: 'controller', cells, version: null }),
    ).rejects.toMatchObject({
      code: 'invalid_input',
      details: { problems: [{ column: 'rated_low' }, { column: 'rated_high' }] },
    });
    const saved = await service.call('register.save', {
      rowClass: 'controller',
      cells: { ...cells, rated_low: '13', rated_high: '18' },
      version: null,
    });
    expect(saved).toEqual({ id: expect.any(Number), changed: true });
    expect((await service.call('register.device', { id: saved.id ?? 0 })).main).toMatchObject({ tag: 'M-1' });
  });
  it('a stale write is refused and shows the newer state', async () => {
    const service = await sampleService();
    const { id } = await service.call('register.find', { tag: 'HM-N' });
    const page = await service.call('register.device', { id: id ?? 0 });
    const save = (name: string) =>
      service.call('register.save', {
        rowClass: 'main',
        cells: { ...page.values, name },
        version: page.version,
      });
    await save('first');
    await expect(save('second')).rejects.toMatchObject({
      code: 'stale_version',
      details: { current: { name: 'first' } },
    });
  });
  it('a room is changed with its access, and a stale form of it is refused', async () => {
    const service = await sampleService();
    const room = (await service.call('register.places', {})).rows.find((row) => row.values.room === 'N1-01');
    const save = (access: string) =>
      service.call('register.save', {
        rowClass: 'room',
        cells: { ...room?.values, access },
        version: room?.version ?? 0,
      });
    expect(await save('12345 08:00-17:00|6 08:00-12:00')).toEqual({ id: null, changed: true });
    await expect(save('')).rejects.toMatchObject({ code: 'stale_version' });
    const after = (await service.call('register.places', {})).rows.find((row) => row.values.room === 'N1-01');
    expect(after?.values.access).toBe('12345 08:00-17:00|6 08:00-12:00');
  });
  it('an unchanged form changes nothing', async () => {
    const service = await sampleService();
    const { id } = await service.call('register.find', { tag: 'TC-W3-11' });
    const page = await service.call('register.device', { id: id ?? 0 });
    expect(
      await service.call('register.save', {
        rowClass: 'controller',
        cells: page.values,
        version: page.version,
      }),
    ).toMatchObject({ changed: false });
    for (const setpoint of page.setpoints)
      expect(
        await service.call('register.save', {
          rowClass: 'setpoint',
          cells: setpoint.values,
          version: setpoint.version,
        }),
      ).toMatchObject({ changed: false });
  });
  it('a retired device keeps its history and is due no more', async () => {
    const service = await sampleService();
    const { id } = await service.call('register.find', { tag: 'TC-N1-01' });
    const page = await service.call('register.device', { id: id ?? 0 });
    await service.call('register.retire', {
      id: page.id,
      version: page.version,
      on: '2026-11-20',
      why: 'room given up',
    });
    const after = await service.call('register.device', { id: page.id });
    expect([
      after.values.retired_on,
      after.history.length,
      after.testPoints.map((point) => point.active),
    ]).toEqual(['2026-11-20', page.history.length, [false, false]]);
    const ledger = await service.call('due.ledger', { until: '2029-01-01' });
    expect(ledger.rows.filter((row) => row.tag === 'TC-N1-01')).toEqual([]);
    await headHash(service);
  });
});

describe('find and filter', () => {
  it('finds by parts of tag, room, class and main, and takes any text', async () => {
    const service = await sampleService();
    const total = async (find: string) => (await service.call('register.list', { find })).total;
    expect(await total('TC-N1-01')).toBe(1);
    expect(await total('TC-N1')).toBeGreaterThan(8);
    expect(await total('controller annex')).toBeGreaterThan(60);
    expect(await total('plant room')).toBeGreaterThan(5);
    expect(await total('nowhere')).toBe(0);
    for (const hostile of ['"', '*', 'a" OR "b', '( NEAR', "'; drop table device; --", 'AND', '^'])
      expect(await total(hostile)).toBeGreaterThanOrEqual(0);
  });
  it('filters by class, main and level together, page by page', async () => {
    const service = await sampleService();
    const facets = await service.call('register.facets', {});
    const main = facets.mains.find((one) => one.tag === 'HM-N');
    const level = facets.levels.find((one) => one.building === 'HALL' && one.code === '2');
    const page = await service.call('register.list', {
      class: 'controller',
      mainId: main?.id,
      levelId: level?.id,
      limit: 5,
    });
    expect([
      page.rows.length,
      page.rows.every((row) => row.main === 'HM-N' && row.level === '2' && row.class === 'controller'),
    ]).toEqual([5, true]);
    const next = await service.call('register.list', {
      class: 'controller',
      mainId: main?.id,
      levelId: level?.id,
      offset: 5,
      limit: 5,
    });
    expect(next.rows[0].tag > page.rows[4].tag).toBe(true);
  });
});
