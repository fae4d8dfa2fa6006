import { describe, expect, it } from 'vitest';
import { headHash, plainFileStyle, sampleService, upload } from '../support/books.ts';
import type { Service } from '../../service/service.ts';

const load = (service: Service, text: string, style = {}, dryRun = false) =>
  service.runJob('records.load', {
    files: [upload('past.csv', text)],
    style: { ...plainFileStyle, ...style },
    dryRun,
  });

const header =
  'tag,kind,role,done_on,person,outcome,main_pressure,dial,room_temperature,branch_found,branch_left,error_found,found_relation,error_left,value_found,value_left,replaced,note\n';
const good = `${header}TC-W1-99,,only,2026-09-01,OV,adjusted,20,72,72,3,8.2,,,,,,,\nTC-W1-99,,only,2026-10-01,TB,held,,,,,,0.4,,,,,,\nPRV-HN,regulator low,,2026-11-02,IM,adjusted,,,,,,,,,13.7,13,,\n`;

describe('past readings', () => {
  it('load as records whose errors follow from the readings, move the due date, and load again as nothing new', async () => {
    const service = await sampleService();
    const dry = await load(service, good, {}, true);
    expect([dry.problems, dry.added]).toEqual([[], 3]);
    const report = await load(service, good);
    expect([report.problems, report.added]).toEqual([[], 3]);
    const { series } = await service.call('drift.ofTag', { tag: 'TC-W1-99', role: 'only' });
    expect(
      series[0].points.map((point) => [point.date, point.foundMilli, point.leftMilli, point.driftMilli]),
    ).toEqual([
      ['2026-09-01', 2000, -80, null],
      ['2026-10-01', 400, 400, 480],
    ]);
    const { id } = await service.call('register.find', { tag: 'TC-W1-99' });
    expect((await service.call('register.device', { id: id ?? 0 })).testPoints[0].dueOn).toBe('2027-10-01');
    const head = await headHash(service);
    const same = await load(service, good);
    expect([same.added, same.unchanged, same.message.includes('nothing was changed')]).toEqual([0, 3, true]);
    expect(await headHash(service)).toBe(head);
  });

  it('reads other units and styles by declaration', async () => {
    const service = await sampleService();
    const text =
      'tag;role;done_on;person;outcome;error_found;error_left\nTC-W1-99;only;01.09.2026;OV;adjusted;1,1;0,1\n';
    const report = await load(service, text, { temperature: 'degC', dates: 'dmy', decimals: 'comma' });
    expect(report.problems).toEqual([]);
    const { series } = await service.call('drift.ofTag', { tag: 'TC-W1-99', role: 'only' });
    expect([series[0].points[0].foundMilli, series[0].points[0].leftMilli]).toEqual([1980, 180]);
  });

  it('a replacement in a file starts a series of its own', async () => {
    const service = await sampleService();
    const rows = [
      '2026-09-01,OV,adjusted,,,,,,1.4,,0,,,yes,',
      '2026-10-01,OV,held,,,,,,0.3,,,,,,',
      '2026-11-01,OV,held,,,,,,0.5,,,,,,',
    ].map((row) => `TC-W1-99,,only,${row}\n`);
    expect((await load(service, header + rows.join(''))).problems).toEqual([]);
    const { series } = await service.call('drift.ofTag', { tag: 'TC-W1-99', role: 'only' });
    expect(series[0].points.map((point) => [point.series, point.driftMilli, point.event])).toEqual([
      [0, null, 'replaced'],
      [1, 300, 'none'],
      [1, 200, 'none'],
    ]);
    await headHash(service);
  });

  it('lists every problem, and changes nothing', async () => {
    const service = await sampleService();
    const before = await headHash(service);
    const bad =
      header +
      'NOWHERE,,only,2026-09-01,OV,held,,,,,,0,,,,,,\n' +
      'TC-W1-99,,occupied,2026-09-01,OV,held,,,,,,0,,,,,,\n' +
      'TC-W1-99,,only,2026-12-24,OV,held,,,,,,0,,,,,,\n' +
      'TC-W1-99,,only,2026-09-31,XX,hold,,,,,,abc,,,,,,\n' +
      'TC-W1-99,,only,2026-09-01,OV,adjusted,20,72,72,3,8,0.4,,,,,,\n' +
      'TC-W1-99,,only,2026-09-02,OV,adjusted,,72,,3,8,,,,,,,\n' +
      'PRV-HN,regulator low,,2026-11-02,IM,held,,,,,,0.5,,,,,,\n';
    const report = await load(service, bad);
    expect(report.problems.map((problem) => [problem.line, problem.column])).toEqual([
      [2, 'tag'],
      [3, 'role'],
      [4, 'done_on'],
      [5, 'done_on'],
      [5, 'person'],
      [5, 'outcome'],
      [6, 'error_found'],
      [7, 'room_temperature'],
      [7, 'main_pressure'],
      [8, 'error_found'],
    ]);
    expect(await headHash(service)).toBe(before);
  });

  const of =
    'tag,role,done_on,person,outcome,main_pressure,dial,room_temperature,branch_found,branch_left,error_found,error_left';
  it.each<[string, string, string[]]>([
    [
      'a main below nothing and a branch that no gauge shows',
      'held,-5,71,72,900,,,',
      ['main_pressure', 'branch_found', 'branch_found'],
    ],
    ['a room like a furnace', 'adjusted,13,71,900,8,8,,', ['room_temperature']],
    ['an error of a thousand degrees', 'held,,,,,,99999,', ['error_found']],
    ['a branch above its main', 'adjusted,13,71,72,8,20,,', ['branch_left']],
    ['held, and left as something else', 'held,,,,,,1,0.2', ['error_left']],
    ['held, and read again as left', 'held,13,71,72,8,8,,', ['branch_left']],
    ['held without a reading', 'held,,,,,,,', ['error_found']],
    ['adjusted without a reading', 'adjusted,,,,,,,', ['error_found']],
    ['no access, and yet read', 'no access,,,,,,1,0', ['error_found']],
    ['not tested, and yet read', 'not tested,13,71,72,8,,,', ['branch_found']],
    ['an error under a supply that was not right', 'supply not right,,,,,,1,', ['error_found']],
    ['read in the other air state', 'held,18,71,71,8,,,', ['main_pressure']],
    ['read between the air states', 'held,15.5,71,71,8,,,', ['main_pressure']],
    ['one figure that is none, told once', 'held,NaN,71,72,8,,,', ['main_pressure']],
  ])('refuses %s', async (_words, row, columns) => {
    const service = await sampleService();
    const before = await headHash(service);
    const report = await load(service, `${of}\nTC-N1-01,occupied,2026-08-02,OV,${row}\n`);
    expect(report.problems.map((problem) => problem.column)).toEqual(columns);
    expect(await headHash(service)).toBe(before);
  });

  it('keeps the readings under a supply that was not right, and draws nothing from them', async () => {
    const service = await sampleService();
    const row = 'TC-N1-01,occupied,2026-08-02,OV,supply not right,18,71,71,8,,,';
    expect(await load(service, `${of}\n${row}\n`)).toMatchObject({ problems: [], added: 1 });
    const { series } = await service.call('drift.ofTag', { tag: 'TC-N1-01', role: 'occupied' });
    expect(series[0].points.find((point) => point.date === '2026-08-02')?.foundMilli ?? null).toBeNull();
    await headHash(service);
  });

  it('takes nothing from after a device was retired', async () => {
    const service = await sampleService();
    const { id } = await service.call('register.find', { tag: 'TC-N1-01' });
    const { version } = await service.call('register.device', { id: id ?? 0 });
    await service.call('register.retire', { id: id ?? 0, version, on: '2026-06-01', why: '' });
    const report = await load(service, `${of}\nTC-N1-01,occupied,2026-08-02,OV,held,,,,,,0.1,\n`);
    expect(report.problems).toMatchObject([
      { column: 'done_on', reason: expect.stringContaining('retired') },
    ]);
  });

  it('never changes a record that is there', async () => {
    const service = await sampleService();
    await load(service, good);
    const report = await load(service, `${header}TC-W1-99,,only,2026-10-01,TB,held,,,,,,0.5,,,,,,\n`);
    expect(report.problems).toMatchObject([
      { line: 2, column: 'done_on', reason: expect.stringContaining('another record') },
    ]);
  });
});

describe('whole cards in a file', () => {
  const cards = [
    'tag,kind,role,done_on,person,outcome,outlet_at_flow,outlet_at_flow_high,no_flow_at_once,no_flow_after_5_min,first_movement_up,end_of_travel_up,end_of_travel_up_left,first_movement_up_left,position,normal_position_seen,load,clock_error,pressure_unit,pressure_gauge,note',
    'PRV-HN,card,,2026-11-20,IM,held,13.1,17.9,13.4,13.6,,,,,,,,,psi,PG-1,',
    'VH-N1-01,card,,2026-11-20,OV,adjusted,,,,,28,56,49,21,,open,unloaded,,kPa,,in the other unit',
    'TS-HALL,card,,2026-11-20,OV,held,,,,,,,,,,,,-3,,,',
  ];
  const text = `${cards
    .map((line) =>
      line
        .split(',')
        .filter((_, at) => at !== 14)
        .join(','),
    )
    .join('\n')}\n`;

  it('make the records of all their test points, as typed, judged as the card judges, and load once', async () => {
    const service = await sampleService();
    const report = await load(service, text);
    expect([report.problems, report.added]).toEqual([[], 3]);
    const figures = async (tag: string) =>
      (await service.call('drift.ofTag', { tag })).series.map((one) => [
        one.kind,
        one.points.at(-1)?.foundMilli,
        one.points.at(-1)?.leftMilli,
      ]);
    expect(await figures('PRV-HN')).toEqual([
      ['regulator low', 100, 100],
      ['regulator high', -100, -100],
    ]);
    // 28 kPa is 4.061 psi against 3; 21 kPa as left is 3.046.
    expect(await figures('VH-N1-01')).toEqual([
      ['spring start', 1061, 46],
      ['spring end', 1122, 107],
    ]);
    expect(await figures('TS-HALL')).toEqual([['clock', -3000, -3000]]);
    const again = await load(service, text);
    expect([again.added, again.unchanged]).toEqual([0, 3]);
    await headHash(service);
  });

  it.each([
    ['held', '13.9', 'PG-1', 'outcome'],
    ['held', '1399', 'PG-1', 'outlet_at_flow'],
    ['held', '13.1', 'NO-SUCH', 'pressure_gauge'],
    ['fine', '13.1', 'PG-1', 'outcome'],
    ['not tested', '13.1', 'PG-1', 'outcome'],
  ])('are refused where they contradict themselves: %s, %s, %s', async (outcome, outlet, gauge, column) => {
    const service = await sampleService();
    const before = await headHash(service);
    const row = `tag,kind,done_on,person,outcome,outlet_at_flow,pressure_gauge\nPRV-AW,card,2026-11-20,IM,${outcome},${outlet === '13.1' ? '20' : outlet === '13.9' ? '21' : outlet},${gauge}\n`;
    const report = await load(service, row).catch(
      (error: unknown) => error as { details: { problems: { column: string }[] } },
    );
    const problems = 'problems' in report ? report.problems : report.details.problems;
    expect(problems.map((problem) => problem.column)).toContain(column);
    expect(await headHash(service)).toBe(before);
  });
});
