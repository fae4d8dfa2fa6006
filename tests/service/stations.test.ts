/** The sheet of a station over the sample, tests and leaks as they are logged, corrected and refused. */
import { describe, expect, it } from 'vitest';
import { trendOf } from '../../service/stations/trends.ts';
import type { Service } from '../../service/service.ts';
import { budgetOf } from '../../shared/register/air/stationUse.ts';
import type { StationNode } from '../../shared/register/findings/network.ts';
import { airNetwork } from '../../db/airNetwork.ts';
import { writeBook } from '../../db/book.ts';
import { dewPointMoved } from '../../shared/trade/air/humidity.ts';
import { emptyService, sampleService } from '../support/books.ts';

async function idOf(service: Service, tag: string): Promise<number> {
  return (await service.call('register.find', { tag })).id ?? 0;
}

async function sheetOf(service: Service, tag: string) {
  return service.call('stations.sheet', { deviceId: await idOf(service, tag) });
}

const fall = (from: number, to: number, minutes: number) => [
  { quantity: 'volume', valueMilli: 60_000, unit: 'gal' },
  { quantity: 'pressure at the start', valueMilli: from * 1000, unit: 'psi' },
  { quantity: 'pressure at the end', valueMilli: to * 1000, unit: 'psi' },
  { quantity: 'time', valueMilli: minutes * 1000, unit: 'minutes' },
];

describe('the sheet', () => {
  it('adds up what the register holds below the station, and holds it against the measured capacity', async () => {
    const service = await sampleService();
    const sheet = await sheetOf(service, 'AS-HALL');
    const network = await airNetwork(service.book.reader);
    const station = network.nodes.get(sheet.id) as StationNode;
    expect(sheet.budget).toMatchObject(budgetOf(network, station));
    // 40 one-pipe controllers, of which one was measured at 13.5 scim.
    const line = sheet.budget.lines.find(({ kind }) => kind === 'one-pipe, 0.007 in');
    expect(line).toEqual({
      kind: 'one-pipe, 0.007 in',
      count: 40,
      known: 1,
      scim: { low: 39 * 22 + 13.5, typical: 39 * 30 + 13.5, high: 39 * 43 + 13.5 },
    });
    expect(sheet.capacity).toMatchObject({ nominal: 14, measured: { on: '2026-05-18' } });
    const capacity = sheet.capacity.measured?.value ?? 0;
    expect(sheet.budget.share?.typical).toBeCloseTo(sheet.budget.scfm.typical / capacity, 12);
    expect(sheet.run?.scfm).toBeCloseTo(0.272619 * capacity, 9);
    expect(sheet.unexplained?.typical).toBeCloseTo(0.272619 * capacity - sheet.budget.scfm.typical, 9);
    expect(sheet.run?.kwhAYear).toBeCloseTo(3.7 * 0.272619 * 8760, 6);
  });

  it('says what the budget leaves unexplained, and that another station feeds some of the same', async () => {
    const service = await sampleService();
    const sheet = await sheetOf(service, 'AS-HALL');
    const demand = (sheet.run?.share ?? 0) * (sheet.capacity.measured?.value ?? 0);
    // The high budget leaves least.
    expect(sheet.unexplained?.low).toBeCloseTo(demand - sheet.budget.scfm.high, 9);
    expect(sheet.unexplained?.high).toBeCloseTo(demand - sheet.budget.scfm.low, 9);
    expect(sheet.sharedWith).toEqual([]);
    const from_id = await idOf(service, 'AS-ANNEX');
    const to_id = await idOf(service, 'PRV-HS-LO');
    await writeBook(service.book, async (db) => {
      await db.insertInto('supplies').values({ from_id, to_id, port: 'air', position: 9 }).execute();
    });
    expect((await sheetOf(service, 'AS-HALL')).sharedWith).toEqual(['AS-ANNEX']);
    expect((await sheetOf(service, 'AS-ANNEX')).sharedWith).toEqual(['AS-HALL']);
  });

  it('holds each series apart, and corrected tests out', async () => {
    const service = await sampleService();
    const before = await sheetOf(service, 'AS-HALL');
    const trend = (sheet: typeof before, key: string) =>
      sheet.trends.find((one) => one.key === key)?.points ?? [];
    // Sixteen cards and eight hour meters; one receiver test a year.
    expect([trend(before, 'run share').length, trend(before, 'demand').length]).toEqual([24, 8]);
    expect(trend(before, 'first drop').filter(({ isFresh }) => isFresh).length).toBeGreaterThan(0);
    const wrong = before.tests.find(({ kind }) => kind === 'regulated demand');
    await service.call(
      'stations.addTest',
      {
        deviceId: before.id,
        kind: 'regulated demand',
        doneOn: wrong?.doneOn ?? '',
        readings: fall(80, 60, 5),
        corrects: { id: wrong?.id ?? 0, reason: 'time misread' },
      },
      1,
    );
    const after = await sheetOf(service, 'AS-HALL');
    expect(trend(after, 'demand').length).toBe(8);
    expect(trend(after, 'demand').at(-1)?.value).toBeCloseTo((8.02086 * 20) / (5 * 14.7), 3);
  });

  it('tells a dew point at the receiver’s pressure, and gives no class to one of reduced air', async () => {
    const service = await sampleService();
    const { dewPointId } = await sheetOf(service, 'AS-HALL');
    await writeBook(service.book, async (db) => {
      const { id } = await db
        .insertInto('calibration')
        .values({
          test_point_id: dewPointId ?? 0,
          done_on: '2026-11-20',
          ended_at: '2026-11-20T09:00:00Z',
          person_id: 1,
          outcome: 'held',
          source: 'bench',
          unit: 'degF',
          method_version: 'planted',
          decision_rule: 'simple acceptance',
          supply_right: 1,
          snapshot_json: '{}',
        })
        .returning('id')
        .executeTakeFirstOrThrow();
      for (const [position, quantity, value_milli, unit] of [
        [1, 'receiver pressure', 80_000, 'psi'],
        [2, 'dew point', 5_000, 'degF'],
        [3, 'pressure of the dew point', 18_000, 'psi'],
      ] as const)
        await db
          .insertInto('reading')
          .values({ calibration_id: id, position, phase: 'found', quantity, value_milli, unit })
          .execute();
    });
    const sheet = await sheetOf(service, 'AS-HALL');
    const last = sheet.trends.find(({ key }) => key === 'dew point')?.points.at(-1);
    expect(last?.value).toBeCloseTo(32 + 1.8 * dewPointMoved(-15, { fromPsi: 18, toPsi: 80 }), 6);
    expect([sheet.dryness.dewPoint?.isAtLine, sheet.quality.designation]).toEqual([false, '-:-:3']);
  });

  it('tells the dew point at each main, and the class of the air', async () => {
    const sheet = await sheetOf(await sampleService(), 'AS-HALL');
    const { dewPoint, places, mostDegF } = sheet.dryness;
    expect([dewPoint?.psi, mostDegF, sheet.quality.designation]).toEqual([80, 30, '-:4:3']);
    const free = places.find(({ id }) => id === null);
    const degC = (((dewPoint?.degF ?? 0) - 32) * 5) / 9;
    expect(free?.frostDegF).toBeCloseTo(32 + 1.8 * dewPointMoved(degC, { fromPsi: 80, toPsi: 0 }), 9);
    expect(places.map(({ tag }) => tag)).toEqual(['HM-N', 'HM-F', 'HM-S', 'free air']);
  });

  it('of another device, or of none, is refused; a book without stations has none', async () => {
    const service = await sampleService();
    await expect(sheetOf(service, 'HM-N')).rejects.toMatchObject({ code: 'not_found' });
    expect((await (await emptyService()).call('stations.list', {})).stations).toEqual([]);
  });
});

describe('tests', () => {
  it('are kept with what they come to; a correction stands in the place of the one that it names', async () => {
    const service = await sampleService();
    const deviceId = await idOf(service, 'AS-ANNEX');
    const test = {
      deviceId,
      kind: 'pump-up' as const,
      doneOn: '2026-11-02',
      readings: fall(60, 80, 1),
    };
    const { id } = await service.call('stations.addTest', test, 1);
    expect((await sheetOf(service, 'AS-ANNEX')).capacity.measured?.on).toBe('2026-11-02');
    const corrects = { id, reason: 'the watch was read wrongly' };
    const { id: better } = await service.call(
      'stations.addTest',
      { ...test, readings: fall(60, 80, 1.25), corrects },
      2,
    );
    const sheet = await sheetOf(service, 'AS-ANNEX');
    // 60 gal = 8.0209 ft3, 20 psi in 1.25 minutes.
    expect(sheet.capacity.measured?.value).toBeCloseTo((8.02086 * 20) / (1.25 * 14.7), 3);
    expect(sheet.tests.filter(({ doneOn }) => doneOn === '2026-11-02')).toMatchObject([
      { id: better, replacesId: id, replacedBy: null, reason: corrects.reason },
      { id, replacedBy: better },
    ]);
    await expect(service.call('stations.addTest', { ...test, corrects }, 1)).rejects.toMatchObject({
      code: 'conflict',
    });
    expect(await service.runJob('records.verify', {})).toMatchObject({ sound: true });
  });

  it('that are logged late, or corrected, are worked out with the capacity of their day', async () => {
    const service = await sampleService();
    const deviceId = await idOf(service, 'AS-HALL');
    const before = await sheetOf(service, 'AS-HALL');
    const old = before.tests.find(({ kind, doneOn }) => kind === 'hour meter' && doneOn < '2022');
    if (!old) throw new Error('no old test');
    const pumped = before.tests.find(({ kind, doneOn }) => kind === 'pump-up' && doneOn <= old.doneOn);
    const { id } = await service.call(
      'stations.addTest',
      {
        deviceId,
        kind: 'hour meter',
        doneOn: old.doneOn,
        readings: old.readings,
        corrects: { id: old.id, reason: 'the note was missing' },
      },
      1,
    );
    const after = (await sheetOf(service, 'AS-HALL')).tests.find((one) => one.id === id);
    expect(after?.scfm).toBeCloseTo((pumped?.scfm ?? 0) * (old.share ?? 0), 2);
    expect(after?.scfm).toBeCloseTo(old.scfm ?? 0, 6);
  });

  it('are refused a second time, with a gauge that cannot show it, and where they come to nothing', async () => {
    const service = await sampleService();
    const deviceId = await idOf(service, 'AS-HALL');
    const test = { deviceId, kind: 'regulated demand' as const, doneOn: '2026-11-02' };
    await service.call('stations.addTest', { ...test, readings: fall(80, 60, 12) }, 1);
    await expect(
      service.call('stations.addTest', { ...test, readings: fall(80, 60, 12) }, 1),
    ).rejects.toMatchObject({ code: 'conflict' });
    await expect(
      service.call('stations.addTest', { ...test, gaugeId: 1, readings: fall(80, 60, 11) }, 1),
    ).rejects.toMatchObject({ details: { problems: [{ column: 'gaugeId' }] } });
    for (const minutes of [0.001, 10_000])
      await expect(
        service.call(
          'stations.addTest',
          {
            ...test,
            readings: fall(300, 0, minutes).map((one) =>
              one.quantity === 'volume' ? { ...one, valueMilli: minutes < 1 ? 90_000_000 : 1 } : one,
            ),
          },
          1,
        ),
      ).rejects.toMatchObject({ details: { problems: [{ column: 'time' }] } });
  });

  it('of a station that was replaced stand on its own sheet', async () => {
    const service = await sampleService();
    const id = await idOf(service, 'AS-HALL');
    const { version } = await service.call('register.device', { id });
    await service.call(
      'register.replace',
      { id, version, on: '2026-11-20', newTag: null, reason: 'worn out', personId: 1 },
      1,
    );
    const { stations } = await service.call('stations.list', {});
    expect(stations.map(({ retiredOn }) => retiredOn)).toEqual([null, null, '2026-11-20']);
    const gone = await service.call('stations.sheet', { deviceId: stations[2].id });
    expect([gone.retiredOn, gone.tests.length, gone.budget.scim.typical]).toEqual(['2026-11-20', 30, 0]);
    const [relative] = gone.relatives;
    const next = await service.call('stations.sheet', { deviceId: relative.id });
    expect(next.relatives).toMatchObject([{ id: stations[2].id }]);
    expect([next.tests.length, next.budget.scim.typical > 2_000]).toEqual([0, true]);
  });

  it('of a bleed stand before the sheet of the device, and its sheet before its kind', async () => {
    const service = await sampleService();
    const deviceId = await idOf(service, 'TC-N1-02');
    const page = await service.call('register.device', { id: deviceId });
    const before = (await sheetOf(service, 'AS-HALL')).budget.scim.typical;
    await service.call(
      'register.save',
      {
        rowClass: 'controller',
        cells: { ...page.values, bleed_scim: '100' },
        version: page.version,
        why: 'its sheet',
      },
      1,
    );
    expect((await sheetOf(service, 'AS-HALL')).budget.scim.typical - before).toBeCloseTo(100 - 15, 9);
    await service.call(
      'stations.addTest',
      {
        deviceId,
        kind: 'bleed of a device',
        doneOn: '2026-11-02',
        readings: [{ quantity: 'steady flow', valueMilli: 40_000, unit: 'scim' }],
      },
      1,
    );
    expect((await sheetOf(service, 'AS-HALL')).budget.scim.typical - before).toBeCloseTo(40 - 15, 9);
  });

  it('of a bleed move the budget at once', async () => {
    const service = await sampleService();
    const before = await sheetOf(service, 'AS-HALL');
    const deviceId = await idOf(service, 'TC-N1-02');
    expect(await service.call('stations.bleed', { deviceId })).toMatchObject({ measured: null, sheet: null });
    await service.call(
      'stations.addTest',
      {
        deviceId,
        kind: 'bleed of a device',
        doneOn: '2026-11-02',
        readings: [{ quantity: 'steady flow', valueMilli: 500, unit: 'scfm' }],
      },
      1,
    );
    expect((await service.call('stations.bleed', { deviceId })).measured).toEqual({
      value: 864,
      on: '2026-11-02',
    });
    const after = await sheetOf(service, 'AS-HALL');
    expect(after.budget.scim.typical - before.budget.scim.typical).toBeCloseTo(864 - 15, 9);
  });

  it.each([
    ['nobody', { personId: null }, 'person'],
    ['a day to come', { doneOn: '2027-01-01' }, 'doneOn'],
    ['a day before it stood there', { doneOn: '1950-01-01' }, 'doneOn'],
    ['readings of another kind', { kind: 'hour meter' as const }, 'volume'],
    ['a fall that rises', { readings: fall(60, 80, 1) }, 'pressure at the end'],
    ['a test of a device', { kind: 'bleed of a device' as const }, 'kind'],
    ['a thermometer', { gaugeId: 3 }, 'gaugeId'],
  ])('by %s, or of it, are refused and change nothing', async (_words, change, column) => {
    const service = await sampleService();
    const deviceId = await idOf(service, 'AS-HALL');
    const { personId = 1, ...given } = change as { personId?: number | null };
    await expect(
      service.call(
        'stations.addTest',
        { deviceId, kind: 'regulated demand', doneOn: '2026-11-02', readings: fall(80, 60, 12), ...given },
        personId,
      ),
    ).rejects.toMatchObject({
      code: 'invalid_input',
      details: { problems: expect.arrayContaining([expect.objectContaining({ column })]) as unknown },
    });
    expect((await sheetOf(service, 'AS-HALL')).tests).toHaveLength(30);
  });

  it('of another device are not corrected from here', async () => {
    const service = await sampleService();
    const [one] = (await sheetOf(service, 'AS-HALL')).tests.filter(({ kind }) => kind === 'regulated demand');
    await expect(
      service.call(
        'stations.addTest',
        {
          deviceId: await idOf(service, 'AS-ANNEX'),
          kind: 'regulated demand',
          doneOn: '2026-11-02',
          readings: fall(80, 60, 12),
          corrects: { id: one.id, reason: 'wrong' },
        },
        1,
      ),
    ).rejects.toMatchObject({ code: 'conflict' });
  });
});

describe('leaks', () => {
  it('belong to the station above them, are mended once, and corrected', async () => {
    const service = await sampleService();
    const leak = {
      deviceId: await idOf(service, 'TC-S1-01'),
      place: 'tube behind the plate',
      foundOn: '2026-11-02',
      diameterMicro: 31_250,
      diameterUnit: 'in' as const,
      pressureMilli: 20_000,
      pressureUnit: 'psi' as const,
      coefficientMilli: 610,
    };
    const { id } = await service.call('stations.addLeak', leak, 1);
    const before = await sheetOf(service, 'AS-HALL');
    expect(before.leaks[0].flow.typical).toBeCloseTo(0.3005, 4);
    expect((await sheetOf(service, 'AS-ANNEX')).leaks.map((one) => one.id)).not.toContain(id);
    await expect(
      service.call('stations.mendLeak', { leakId: id, mendedOn: '2026-11-01' }, 1),
    ).rejects.toMatchObject({ code: 'invalid_input' });
    await service.call('stations.mendLeak', { leakId: id, mendedOn: '2026-11-03', note: 'new tube' }, 1);
    await expect(
      service.call('stations.mendLeak', { leakId: id, mendedOn: '2026-11-03' }, 1),
    ).rejects.toMatchObject({ code: 'conflict' });
    const mended = await sheetOf(service, 'AS-HALL');
    expect(mended.openLeaks.count).toBe(before.openLeaks.count - 1);
    const { id: corrected } = await service.call(
      'stations.addLeak',
      { ...leak, pressureMilli: 9_000, corrects: { id, reason: 'it was the branch' } },
      1,
    );
    const after = await sheetOf(service, 'AS-HALL');
    expect(after.leaks.find((one) => one.id === id)).toMatchObject({ replacedBy: corrected });
    expect(after.leaks[0]).toMatchObject({ id: corrected, mended: null, reason: 'it was the branch' });
    // Both stand, and the one in force counts.
    expect(after.openLeaks.count).toBe(before.openLeaks.count);
    const { id: again } = await service.call(
      'stations.addLeak',
      {
        ...leak,
        corrects: { id: corrected, reason: 'it was mended' },
        mended: { on: '2026-11-04', note: 'new tube' },
      },
      1,
    );
    const mendedAgain = await sheetOf(service, 'AS-HALL');
    expect(mendedAgain.leaks[0]).toMatchObject({ id: again, mended: { on: '2026-11-04', note: 'new tube' } });
    expect(mendedAgain.openLeaks.count).toBe(before.openLeaks.count - 1);
    expect(await service.runJob('records.verify', {})).toMatchObject({ sound: true });
  });
  it('say which station they stand under; of a device that is gone they are open no more, and may be mended still', async () => {
    const service = await sampleService();
    const leak = {
      place: 'joint',
      foundOn: '2026-11-02',
      diameterMicro: 15_625,
      diameterUnit: 'in' as const,
      pressureMilli: 20_000,
      pressureUnit: 'psi' as const,
    };
    const add = async (tag: string) =>
      service.call('stations.addLeak', { ...leak, deviceId: await idOf(service, tag) }, 1);
    expect((await add('AM-E')).stations).toEqual(['AS-ANNEX']);
    const { id } = await add('TC-S1-01');
    const before = (await sheetOf(service, 'AS-HALL')).openLeaks.count;
    const page = await service.call('register.device', { id: await idOf(service, 'TC-S1-01') });
    await service.call(
      'register.retire',
      { id: page.id, version: page.version, on: '2026-11-10', why: 'gone' },
      1,
    );
    expect((await sheetOf(service, 'AS-HALL')).openLeaks.count).toBe(before - 1);
    await service.call('stations.mendLeak', { leakId: id, mendedOn: '2026-11-12' }, 1);
  });
  it('lose less where the air is thin', async () => {
    const service = await sampleService();
    const deviceId = await idOf(service, 'AS-HALL');
    const page = await service.call('register.device', { id: deviceId });
    await service.call(
      'register.save',
      {
        rowClass: 'air_station',
        cells: { ...page.values, altitude_ft: '5280' },
        version: page.version,
        why: 'surveyed',
      },
      1,
    );
    await service.call(
      'stations.addLeak',
      {
        deviceId,
        place: 'tee',
        foundOn: '2026-11-02',
        diameterMicro: 31_250,
        diameterUnit: 'in',
        pressureMilli: 20_000,
        pressureUnit: 'psi',
        coefficientMilli: 610,
      },
      1,
    );
    await service.call(
      'stations.addTest',
      { deviceId, kind: 'bleed-down', doneOn: '2026-11-02', readings: fall(20, 12, 30) },
      1,
    );
    const sheet = await sheetOf(service, 'AS-HALL');
    // Reference 1.2: 0.2780 scfm at 12.10 psi outside.
    expect(sheet.leaks[0].flow.typical).toBeCloseTo(0.278, 4);
    expect(sheet.atmospherePsi).toBeCloseTo(12.1, 2);
    // 12 psi is above the 10.8 from which the flow is choked there: (20 + 12.1) ln(32.1 / 24.1) / 8.
    expect(sheet.tests[0].factor).toBeCloseTo(((20 + 12.1) * Math.log(32.1 / 24.1)) / 8, 3);
    const [main] = sheet.dryness.places;
    const degC = (((sheet.dryness.dewPoint?.degF ?? 0) - 32) * 5) / 9;
    const moved = dewPointMoved(degC, { fromPsi: 80, toPsi: main.psi, atmospherePsi: sheet.atmospherePsi });
    expect(main.frostDegF).toBeCloseTo(32 + 1.8 * moved, 9);
    expect(await service.runJob('records.verify', {})).toMatchObject({ sound: true });
  });
  it('of no size, or of nobody, are refused', async () => {
    const service = await sampleService();
    const leak = {
      deviceId: await idOf(service, 'HM-N'),
      place: 'tee',
      foundOn: '2026-11-02',
      diameterMicro: 0,
      diameterUnit: 'in' as const,
      pressureMilli: 20_000,
      pressureUnit: 'psi' as const,
    };
    await expect(service.call('stations.addLeak', leak, 1)).rejects.toMatchObject({ code: 'invalid_input' });
    await expect(
      service.call('stations.addLeak', { ...leak, diameterMicro: 15_625 }, null),
    ).rejects.toMatchObject({ code: 'invalid_input' });
  });
});

describe('a trend of a station', () => {
  const context = { today: '2026-11-25', replacedOn: new Set<string>() };
  const said = { key: 'x', title: 'x', unit: 'scfm', noun: 'scfm' };
  const values = (of: (year: number) => number) =>
    Array.from({ length: 8 }, (_, year) => ({
      date: `${2019 + year}-04-01`,
      value: of(year),
      from: 'test' as const,
      isFresh: false,
    }));
  it('dates when a limit above is passed, and when one below is', () => {
    // 2.0 and a tenth a year: 3.0 after ten years.
    const up = trendOf(
      { ...said, worse: 'up', limit: { value: 3, words: '' } },
      values((year) => 2 + 0.1 * year),
      context,
    );
    expect(up.said).toMatch(/0\.10 scfm a year up.*passes its limit about 2029-0[34]/);
    const down = trendOf(
      { ...said, worse: 'down', limit: { value: 1, words: '' } },
      values((year) => 2 - 0.1 * year),
      context,
    );
    expect(down.said).toMatch(/0\.10 scfm a year down.*passes its limit about 2029-0[34]/);
    expect(down.line?.[0].value).toBeCloseTo(2, 3);
    expect(down.line?.[1].value).toBeCloseTo(1.125, 2);
  });
  it('away from its limit is dated by nothing, and beyond it is said', () => {
    const limit = { value: 3, words: '' };
    const away = trendOf(
      { ...said, worse: 'up', limit },
      values((year) => 2 - 0.1 * year),
      context,
    );
    expect(away.said).toMatch(/more than chance\.$/);
    const beyond = trendOf(
      { ...said, worse: 'up', limit },
      values((year) => 2.5 + 0.1 * year),
      context,
    );
    expect(beyond.said).toContain('It stands beyond its limit now.');
  });
  it('begins anew where an element was changed', () => {
    const changed = values((year) => (year < 5 ? 2 + year : 2 + (year - 5))).map((one, index) => ({
      ...one,
      isFresh: index === 4,
    }));
    const trend = trendOf({ ...said, worse: 'up', limit: { value: 10, words: '' } }, changed, context);
    expect(trend.said).toContain('over 3 readings');
  });
});
