/** Energy over real books: the worked examples of the air-energy reference through the register, and what is not known. */
import { describe, expect, it } from 'vitest';
import { writeBook } from '../../db/book.ts';
import { refreshDue } from '../../db/due.ts';
import { appendCalibration, openFollowUp } from '../../db/records.ts';
import type { Service } from '../../service/service.ts';
import { defaultEnergySettings } from '../../shared/contract/energy.ts';
import { emptyService, headHash, loadRegisterText, sampleService, upload } from '../support/books.ts';

/** The wing of the reference (4.4, 4.5): K 3000, gains 36,000 and 9,000 Btu/h, 32 h, four nights of 12 h and one of 60. */
const header =
  'class,tag,role,building,name,level,room,floor_area_ft2,heat_loss_btu_hf,gain_btu_h,night_gain_btu_h,time_constant_h,heating_efficiency,in_service_on,fed_by,pilot_by,regulator_kind,main_kind,low_means,high_means,low_pressure,high_pressure,switching,no_port,nc_port,energised_state,driven_by,programme,rest_state,controller_kind,rated_low,rated_high,served_area_ft2,action,dial,throttling_range,output_low,output_high,calibration_basis';
const cells = header.split(',');
const line = (values: Record<string, string>): string => cells.map((name) => values[name] ?? '').join(',');
const since = { building: 'W', in_service_on: '2000-01-01' };
const setpoint = (role: string, dial: string) => ({
  class: 'setpoint',
  tag: 'TC-1',
  role,
  action: 'direct',
  dial,
  throttling_range: '4',
  output_low: '3',
  output_high: '13',
  calibration_basis: 'output midpoint',
});

function wing(kind: 'single' | 'two-setpoint', building: Record<string, string> = {}): string {
  return [
    header,
    line({
      class: 'building',
      building: 'W',
      floor_area_ft2: '12000',
      heat_loss_btu_hf: '3000',
      gain_btu_h: '36000',
      night_gain_btu_h: '9000',
      time_constant_h: '32',
      heating_efficiency: '0.8',
      ...building,
    }),
    line({ class: 'air_station', tag: 'AS', ...since }),
    line({
      class: 'time_switch',
      tag: 'TS',
      ...since,
      programme: '12345 06:00-18:00 low',
      rest_state: 'high',
    }),
    line({
      class: 'switchover_relay',
      tag: 'SR',
      ...since,
      fed_by: 'AS',
      no_port: 'supply air',
      nc_port: 'exhaust',
      energised_state: 'low',
      driven_by: 'TS',
    }),
    line({
      class: 'regulator',
      tag: 'PRV',
      ...since,
      fed_by: 'AS',
      pilot_by: 'SR',
      regulator_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
    }),
    line({
      class: 'main',
      tag: 'M',
      ...since,
      fed_by: 'PRV',
      main_kind: 'two-pressure',
      low_means: 'occupied',
      high_means: 'unoccupied',
      low_pressure: '13',
      high_pressure: '18',
      switching: 'after hours only',
    }),
    line({
      class: 'controller',
      tag: 'TC-1',
      ...since,
      fed_by: 'M',
      controller_kind: kind,
      served_area_ft2: '12000',
      ...(kind === 'two-setpoint' ? { rated_low: '13', rated_high: '18' } : {}),
    }),
    ...(kind === 'single'
      ? [line(setpoint('only', '70'))]
      : [line(setpoint('occupied', '70')), line(setpoint('unoccupied', '60'))]),
  ].join('\n');
}

async function bookOf(
  kind: 'single' | 'two-setpoint',
  building: Record<string, string> = {},
): Promise<Service> {
  const service = await emptyService();
  const report = await loadRegisterText(service, wing(kind, building));
  expect(report.problems).toEqual([]);
  await service.call('settings.savePerson', {
    id: null,
    version: null,
    name: 'Orla Venn',
    initials: 'OV',
    skills: [],
    active: true,
    shiftIds: [],
    absences: [],
  });
  const { version } = await service.call('energy.settings', {});
  await service.call('energy.saveSettings', {
    ...defaultEnergySettings,
    heatPricePerTherm: 1,
    electricityPricePerKwh: 0.12,
    weather: 'USW00094846 1981-2010',
    version,
  });
  return service;
}

/** Visits of a setpoint: found and left, in degF. */
async function record(
  service: Service,
  role: string,
  visits: readonly { on: string; found: number; left: number }[],
): Promise<void> {
  await writeBook(service.book, async (db) => {
    const point = await db
      .selectFrom('test_point')
      .select('id')
      .where('role', '=', role as 'only')
      .executeTakeFirstOrThrow();
    for (const { on, found, left } of visits)
      await appendCalibration(
        db,
        {
          test_point_id: point.id,
          done_on: on,
          ended_at: `${on}T10:00:00Z`,
          person_id: 1,
          outcome: found === left ? 'held' : 'adjusted',
          source: 'file',
          unit: 'degF',
          method: 'M2',
          method_version: 'test',
          decision_rule: 'simple acceptance',
          error_found_milli: found * 1000,
          found_relation: '=',
          error_left_milli: left * 1000,
          left_relation: '=',
          supply_right: 1,
          snapshot_json: '{}',
        },
        [],
      );
    await refreshDue(db, [point.id]);
  });
}

describe('a baseline', () => {
  it('of the wing that ran 2.5 °F too warm until April is adjusted by 200.0 therms, check 99', async () => {
    const service = await bookOf('single');
    await record(service, 'only', [
      { on: '2025-12-01', found: 2.5, left: 2.5 },
      { on: '2026-04-01', found: 2.5, left: 0 },
      { on: '2026-11-20', found: 0, left: 0 },
    ]);
    await service.call('energy.loadBills', {
      file: upload(
        'bills.csv',
        `meter,month,use,unit,cost\n${Array.from({ length: 10 }, (_, month) => `G,2026-${String(month + 1).padStart(2, '0')},300,therm,300`).join('\n')}\n`,
      ),
    });
    const answer = await service.runJob('energy.baseline', { from: '2026-01-01', to: '2026-10-31' });
    // Source: air-energy reference, check 99 (worked out there, calc): 200.0 therms, to 0.2.
    expect(Math.abs(answer.adjustment.central - 200)).toBeLessThan(0.2);
    expect(answer.asOperated - answer.asIntended).toBeCloseTo(answer.adjustment.central, 6);
    expect(answer.months.map(({ meanErrorDegF }) => Number(meanErrorDegF?.toFixed(2)))).toEqual([
      2.5, 2.5, 2.5, 0, 0, 0, 0, 0, 0, 0,
    ]);
    expect(answer.billed).toBe(3000);
    expect(answer.billedAsIntended?.central).toBeCloseTo(2800, 0);
    expect(answer.adjustment.low).toBeCloseTo(answer.adjustment.central * 0.7, 6);
    expect(answer.events).toEqual([{ date: '2026-04-01', what: '1 setpoint adjusted' }]);
    expect(answer.cautions.length).toBeGreaterThan(8);
  });
  it('says what it cannot be worked out without', async () => {
    const service = await bookOf('single');
    await expect(
      service.runJob('energy.baseline', { from: '2026-05-01', to: '2026-01-01' }),
    ).rejects.toMatchObject({
      details: { problems: [{ column: 'to' }] },
    });
    await expect(service.runJob('energy.baseline', { building: 'NO-SUCH' })).rejects.toMatchObject({
      details: { problems: [{ column: 'building', value: 'NO-SUCH' }] },
    });
    const { values, version } = await service.call('energy.settings', {});
    await service.call('energy.saveSettings', { ...values, weather: '', version });
    await expect(service.runJob('energy.baseline', {})).rejects.toThrow(/needs the weather/);
  });
});

describe('a ranking', () => {
  it('weighs a switchover that does not work before the setpoints of its wing, and adds nothing twice', async () => {
    const service = await bookOf('two-setpoint');
    await record(service, 'occupied', [{ on: '2026-11-20', found: 2.5, left: 2.5 }]);
    await record(service, 'unoccupied', [{ on: '2026-11-20', found: 5, left: 5 }]);
    const relay = (await service.call('register.find', { tag: 'SR' })).id ?? 0;
    await writeBook(service.book, async (db) => {
      await openFollowUp(db, {
        device_id: relay,
        calibration_id: null,
        cause: 'does not switch',
        opened_at: '2026-11-20T10:00:00Z',
        opened_by: 1,
      });
    });
    const { entries, total } = await service.runJob('energy.rank', {});
    const of = (kind: string) => entries.find((entry) => entry.kind === kind);
    // Checks 95 and 96 of the reference: 859.3 and 341.4 therms of October to April; 664 of November to March.
    const stuck = of('switchover');
    expect(stuck?.alone.therms?.central).toBeCloseTo((859.3 + 664) / 2, 0);
    expect(stuck?.alone.therms?.high).toBeCloseTo(859.3 * 1.3, 0);
    expect(stuck?.alone.therms?.low).toBeCloseTo(664 * 0.7, 0);
    expect(stuck).toMatchObject({ rank: 1, tag: 'SR', minutes: 15 });
    expect(of('night setpoint')?.alone.therms?.high).toBeCloseTo(341.4 * 1.3, 0);
    expect(of('day setpoint')).toMatchObject({ errorDegF: 2.5, isOutside: true });
    const sum = entries.reduce((all, entry) => all + (entry.inOrder.therms?.central ?? 0), 0);
    expect(total.therms?.central).toBeCloseTo(sum, 9);
    expect(total.money?.central).toBeCloseTo(sum, 9);
    // In order it is less than one after the other alone: a wrong night costs nothing while it is never reached.
    expect(stuck?.inOrder.therms?.central).toBeLessThan(stuck?.alone.therms?.central ?? 0);
    expect(entries.every(({ method, base }) => method !== '' && base !== '')).toBe(true);
  });

  it('without area, loss or price says degree-hours and no money, and without weather error times hours', async () => {
    const service = await bookOf('single', { heat_loss_btu_hf: '', gain_btu_h: '' });
    await record(service, 'only', [{ on: '2026-11-20', found: 2, left: 2 }]);
    const rank = async () => service.runJob('energy.rank', {});
    const [entry] = (await rank()).entries;
    expect(entry).toMatchObject({ alone: { therms: null, money: null }, confidence: 'low' });
    expect(entry.alone.degreeHours?.central).toBeGreaterThan(5_000);
    expect(entry.base).toContain('usual gains');
    const { values, version } = await service.call('energy.settings', {});
    await service.call('energy.saveSettings', {
      ...values,
      weather: '',
      heatPricePerTherm: null,
      version,
      why: 'trial',
    });
    const bare = await rank();
    expect(bare.entries[0].alone.degreeHours?.central).toBeCloseTo(2 * 8760, 6);
    expect(bare.lacking.length).toBe(4);
    expect(bare.weather).toBeNull();
    // What energy is reckoned by is a setting like any other: the chain knows who changed it.
    await headHash(service);
    const changes = await service.book.reader
      .selectFrom('setting_change')
      .select(['what', 'from_value', 'to_value'])
      .where('subject', '=', 'energy')
      .where('why', '=', 'trial')
      .execute();
    expect(changes).toEqual([
      { what: 'price of heat by the therm', from_value: '1', to_value: null },
      { what: 'weather', from_value: 'USW00094846 1981-2010', to_value: '' },
    ]);
  });

  it('counts a cooling setpoint that stands high as one that saves, with weather or without', async () => {
    const service = await sampleService();
    const signs = async (): Promise<Map<string, number>> => {
      const { entries } = await service.runJob('energy.rank', {});
      return new Map(
        entries
          .filter(({ kind }) => kind === 'cooling setpoint')
          .map(({ tag, alone }) => [tag, Math.sign(alone.degreeHours?.central ?? 0)]),
      );
    };
    const withWeather = await signs();
    expect(withWeather.size).toBeGreaterThan(5);
    const { values, version } = await service.call('energy.settings', {});
    await service.call('energy.saveSettings', { ...values, weather: '', version, why: 'trial' });
    expect(await signs()).toEqual(withWeather);
  });

  it('knows nothing of days to come', async () => {
    const service = await sampleService();
    for (const job of ['energy.rank', 'energy.baseline'] as const)
      await expect(service.runJob(job, { from: '2027-01-01', to: '2027-12-31' })).rejects.toMatchObject({
        code: 'invalid_input',
      });
  });

  it('takes a drift that grows between two visits as it grew', async () => {
    const service = await bookOf('single');
    await record(service, 'only', [
      { on: '2025-10-01', found: 0, left: 0 },
      { on: '2026-10-01', found: 2.5, left: 2.5 },
    ]);
    const { entries } = await service.runJob('energy.rank', { from: '2025-10-01', to: '2026-09-30' });
    // Check 91: 175.8 therms by months; by days within half a percent of it.
    expect(entries[0].period?.therms).toBeGreaterThan(174.5);
    expect(entries[0].period?.therms).toBeLessThan(177);
    expect(entries[0].period?.knownDays).toBe(365);
    // Held for a year it would be check 89.
    expect(Math.abs((entries[0].alone.therms?.central ?? 0) - 511.4)).toBeLessThan(0.5);
  });

  it('of the sample is told in money, with what lacks counted, and its leaks stand in it', async () => {
    const service = await sampleService();
    const answer = await service.runJob('energy.rank', {});
    expect(answer.counts).toEqual({ weighed: 350, near: 214, unknown: 4, noZone: 2 });
    expect(answer.entries.map(({ rank }) => rank)).toEqual(answer.entries.map((_, index) => index + 1));
    expect(answer.entries.filter(({ kind }) => kind === 'leak').map(({ tag }) => tag)).toEqual([
      'AM-W',
      'VH-S2-05',
      'HM-N',
    ]);
    // Nobody has noted how long a leak takes: the guess of the settings, and told so.
    for (const leak of answer.entries.filter(({ kind }) => kind === 'leak')) {
      expect(leak).toMatchObject({ minutes: 60, base: expect.stringContaining('a guess') as string });
      expect(leak.perHour).toBeCloseTo(leak.alone.money?.central ?? 0, 9);
    }
    for (const { alone } of answer.entries)
      for (const band of [alone.degreeHours, alone.therms, alone.kwh, alone.money])
        if (band) {
          expect(band.low).toBeLessThanOrEqual(band.central + 1e-9);
          expect(band.central).toBeLessThanOrEqual(band.high + 1e-9);
        }
    expect(answer.mains.map(({ main }) => main)).toContain('HM-N');
  });

  it('puts what saves before what costs, priced or not', async () => {
    const service = await sampleService();
    const { values, version } = await service.call('energy.settings', {});
    const save = { ...values, electricityPricePerKwh: null, repairMinutes: 25, version, why: 'trial' };
    await service.call('energy.saveSettings', save);
    const { entries } = await service.runJob('energy.rank', {});
    const costs = entries.map(({ alone }) => (alone.money ?? alone.degreeHours ?? alone.kwh)?.central ?? 0);
    const firstCost = costs.findIndex((value) => value < 0);
    expect(firstCost).toBeGreaterThan(0);
    expect(costs.slice(firstCost).every((value) => value < 0)).toBe(true);
    const leaks = entries.filter(({ kind }) => kind === 'leak');
    expect(leaks.map(({ alone, minutes }) => [alone.money, minutes])).toEqual(leaks.map(() => [null, 25]));
  });
});

describe('weather and bills', () => {
  const weather = async (service: Service, text: string, dryRun = false) =>
    service.call('energy.loadWeather', { file: upload('weather.csv', text), dryRun });

  it('are read in three forms, and the site reckons by its own then', async () => {
    const service = await emptyService();
    const days = Array.from({ length: 365 }, (_, day) => {
      const on = new Date(Date.UTC(2025, 0, 1 + day)).toISOString().slice(0, 10);
      return `${on},${day % 2 === 0 ? 0 : 10}`;
    });
    const daily = `date,mean_temp_degC\n${days.join('\n')}\n`;
    expect(await weather(service, daily, true)).toMatchObject({
      message: expect.stringMatching(/^Dry run: 365 days/u) as string,
    });
    expect((await service.call('energy.settings', {})).own).toBeNull();
    expect(await weather(service, daily)).toMatchObject({ problems: [], rows: 365 });
    expect(await service.call('energy.settings', {})).toMatchObject({
      values: { weather: 'own' },
      own: { days: 365 },
    });
    expect((await weather(service, daily)).message).toContain('in the book already');
    const months = Array.from({ length: 12 }, (_, month) => `${month + 1},${30 + month}`).join('\n');
    expect(await weather(service, `month;mean_temp_degF\n${months.replaceAll(',', ';')}\n`)).toMatchObject({
      problems: [],
    });
    const normals = [
      '"STATION","NAME","month","MLY-TAVG-NORMAL","MLY-HTDD-BASE40","MLY-HTDD-BASE60","MLY-CLDD-NORMAL"',
      ...Array.from(
        { length: 12 },
        (_, month) => `"X","HILL FARM","${month + 1}","${40 + month}","-7777","${600 - month}","-9999"`,
      ),
    ].join('\n');
    expect(await weather(service, normals)).toMatchObject({ problems: [] });
    // A trace counts as nothing; what is missing is not there: two of the three bases are left.
    expect((await service.call('energy.settings', {})).own).toMatchObject({ name: 'HILL FARM', bases: 2 });
    await headHash(service);
  });

  it.each([
    ['a month too few', 'month,mean_temp_degF\n1,20\n', { column: 'month', value: '2' }],
    ['a month twice', 'month,mean_temp_degF\n1,20\n1,21\n', { line: 3, column: 'month' }],
    ['a day twice', 'date,mean_temp_degF\n2025-01-01,20\n2025-01-01,21\n', { line: 3, column: 'date' }],
    ['no date', 'date,mean_temp_degF\n2025-02-30,20\n', { line: 2, column: 'date', value: '2025-02-30' }],
    [
      'no temperature',
      'date,mean_temp_degF\n2025-01-01,warm\n',
      { line: 2, column: 'mean_temp_degF', value: 'warm' },
    ],
    ['a temperature that cannot be', 'date,mean_temp_degC\n2025-01-01,71\n', { line: 2, value: '71' }],
    ['two units at once', 'date,mean_temp_degF,mean_temp_degC\n2025-01-01,20,-7\n', { line: 1 }],
    ['a number of another kind', 'date,mean_temp_degF\n2025-01-01,0x32\n', { line: 2, value: '0x32' }],
    ['another header', 'day,temp\n1,2\n', { line: 1 }],
    ['nothing', '', { line: 1 }],
  ])('%s is refused with where and why, and changes nothing', async (_words, text, problem) => {
    const service = await emptyService();
    const before = await headHash(service);
    const answer = await weather(service, text);
    expect(answer.problems[0]).toMatchObject({ file: 'weather.csv', ...problem });
    expect((await service.call('energy.settings', {})).own).toBeNull();
    expect(await headHash(service)).toBe(before);
  });

  it.each([
    ['a mean of 500 °F', (month: number) => [month === 3 ? '500' : '40', '100', '500']],
    ['a trace for a mean', (month: number) => [month === 3 ? '-7777' : '40', '100', '500']],
    ['degree days below zero', () => ['40', '-5', '500']],
    ['degree days that fall as the base rises', () => ['40', '900', '10']],
  ])('normals with %s are refused', async (_words, cellsOf) => {
    const service = await emptyService();
    const text = [
      'month,MLY-TAVG-NORMAL,MLY-HTDD-BASE40,MLY-HTDD-BASE60',
      ...Array.from({ length: 12 }, (_, month) => [month + 1, ...cellsOf(month)].join(',')),
    ].join('\n');
    const { problems } = await weather(service, text);
    expect(problems.length).toBeGreaterThan(0);
    expect(problems[0]).toMatchObject({ file: 'weather.csv', line: expect.any(Number) as number });
    expect((await service.call('energy.settings', {})).own).toBeNull();
  });

  it('of two years give each month its own', async () => {
    const service = await bookOf('single');
    await record(service, 'only', [{ on: '2024-11-01', found: 1, left: 1 }]);
    const days = Array.from({ length: 730 }, (_, day) => {
      const on = new Date(Date.UTC(2024, 10, 1 + day)).toISOString().slice(0, 10);
      return `${on},${on < '2025-11-01' ? 10 : 60}`;
    });
    expect((await weather(service, `date,mean_temp_degF\n${days.join('\n')}\n`)).problems).toEqual([]);
    const answer = await service.runJob('energy.baseline', { from: '2024-11-01', to: '2026-10-31' });
    const of = (month: string) => answer.months.find((one) => one.month === month);
    // 48 °F below the balance point of 58, for 31 days: 24 x 3000 x 1488 / 80,000; and none at 60 °F.
    expect(of('2025-01')?.asIntended).toBeCloseTo((24 * 3000 * 48 * 31) / 80_000, 6);
    expect(of('2026-01')?.asIntended).toBe(0);
    expect(answer.method).toContain('daily temperatures of each month itself');
  });

  it('bills are loaded once, corrected by a later file, and refused as a whole', async () => {
    const service = await emptyService();
    const load = async (text: string) => service.call('energy.loadBills', { file: upload('b.csv', text) });
    const good = 'meter,month,use,unit,cost\nG,2026-01,300.5,therm,310\nE,2026-01,9000,kWh,\n';
    expect(await load(good)).toMatchObject({ message: '2 bills loaded.' });
    expect((await load(good)).message).toContain('in the book already');
    expect(await load(good.replace('300.5', '301'))).toMatchObject({
      message: '1 bill loaded, 1 in the place of another.',
    });
    for (const [bad, problem] of [
      ['meter,month,use,unit,cost\nG,2026-13,1,therm,\n', { line: 2, column: 'month', value: '2026-13' }],
      ['meter,month,use,unit,cost\nG,2026-01,5,kWh,\n', { line: 2, column: 'unit', value: 'kWh' }],
      ['meter,month,use,unit,cost\nG,2027-01,5,therm,\n', { line: 2, column: 'month', value: '2027-01' }],
      ['meter,month,use,unit,cost\nG,2026-02,-1,therm,\n', { column: 'use', value: '-1' }],
      ['meter,month,use,unit,cost\nG,2026-02,1,gallon,\n', { column: 'unit', value: 'gallon' }],
      ['meter,month,use,unit,cost\nG,2026-02,1,therm,\nG,2026-02,1,therm,\n', { line: 3, column: 'month' }],
    ] as const)
      expect((await load(bad)).problems[0]).toMatchObject({ file: 'b.csv', ...problem });
    const bills = await service.book.reader
      .selectFrom('energy_bill')
      .select(['meter', 'use_milli'])
      .orderBy('id')
      .execute();
    expect(bills).toEqual([
      { meter: 'G', use_milli: 301_000 },
      { meter: 'E', use_milli: 9_000_000 },
    ]);
  });
});
