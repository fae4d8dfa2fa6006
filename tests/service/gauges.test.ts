import { describe, expect, it } from 'vitest';
import type { InputOf } from '../../shared/contract/index.ts';
import { headHash, plainFileStyle, sampleService, upload } from '../support/books.ts';
import { cardOf, closing, goodInstruments, heldEntry } from '../support/bench.ts';
import { drawerRow, gaugeInput } from '../support/gauges.ts';

const gauge: InputOf<'gauges.save'> = {
  id: null,
  version: null,
  tag: 'PG-99',
  kind: 'pressure',
  unit: 'psi',
  rangeLowMilli: 0,
  rangeHighMilli: 30_000,
  accuracyForm: 'absolute',
  accuracyMilli: 250,
  accuracyGrade: null,
  stepMilli: 100,
  certificateDueOn: null,
  retiredOn: null,
};

describe('the gauge drawer', () => {
  it.each([
    [{ unit: 'degF' }, 'unit'],
    [{ rangeHighMilli: 0 }, 'rangeHighMilli'],
    [{ accuracyMilli: -1 }, 'accuracyMilli'],
    [{ accuracyForm: 'grade', accuracyGrade: '9Z' }, 'accuracyGrade'],
    [{ accuracyForm: 'grade', accuracyGrade: '3A', kind: 'temperature', unit: 'degF' }, 'accuracyForm'],
    [{ accuracyForm: 'percent of span', accuracyMilli: 100_001 }, 'accuracyMilli'],
    [{ tag: 'PG-1' }, 'tag'],
  ] as const)('refuses an instrument with %o at %s', async (change, column) => {
    const service = await sampleService();
    await expect(service.call('gauges.save', { ...gauge, ...change })).rejects.toMatchObject({
      code: 'invalid_input',
      details: { problems: [{ column }] },
    });
  });

  it('says how good an instrument is for each tolerance: 0.6 psi of a grade B gauge is too coarse for 0.5', async () => {
    const service = await sampleService();
    await service.call('gauges.save', { ...gauge, accuracyForm: 'grade', accuracyGrade: 'B' });
    const row = await drawerRow(service, 'PG-99');
    // Grade B counts its wider outer part, 3 % of 30 psi.
    expect([row.limitMilli, row.fitness.find(({ kind }) => kind === 'regulator low')?.adequacy]).toEqual([
      900,
      'too coarse',
    ]);
    const good = await drawerRow(service, 'PG-1');
    expect(good.fitness.find(({ kind }) => kind === 'regulator low')).toMatchObject({
      adequacy: 'good',
      ratio: expect.closeTo(6.67, 2),
    });
  });

  it('keeps certificates in the chain, the newest decides the date, and changes are setting changes', async () => {
    const service = await sampleService();
    const { id } = await service.call('gauges.save', gauge);
    const add = (number: string, issuedOn: string, dueOn: string) =>
      service.call('gauges.addCertificate', { gaugeId: id, number, issuedOn, dueOn, doubtMilli: 40 });
    await add('A-1', '2025-06-01', '2026-06-01');
    await add('A-2', '2026-06-02', '2027-06-02');
    await expect(add('A-2', '2026-07-02', '2027-07-02')).rejects.toMatchObject({
      details: { problems: [{ column: 'number' }] },
    });
    await expect(add('A-3', '2026-12-02', '2027-07-02')).rejects.toMatchObject({
      details: { problems: [{ column: 'issuedOn' }] },
    });
    await expect(add('A-3', '2026-06-02', '2026-06-02')).rejects.toMatchObject({
      details: { problems: [{ column: 'dueOn' }] },
    });
    const row = await drawerRow(service, 'PG-99');
    expect([row.certificateDueOn, row.certificates.map(({ number }) => number)]).toEqual([
      '2027-06-02',
      ['A-2', 'A-1'],
    ]);
    await service.call('gauges.save', { ...gauge, id, version: row.version, accuracyMilli: 75 });
    const changes = await service.book.reader
      .selectFrom('setting_change')
      .select(['what', 'from_value', 'to_value'])
      .where('subject', '=', 'instrument PG-99')
      .execute();
    expect(changes).toEqual([{ what: 'accuracy', from_value: '250', to_value: '75' }]);
    await headHash(service);
  });

  it('a record keeps the certificate of the day, whatever follows', async () => {
    const service = await sampleService();
    const pressure = (await drawerRow(service, 'PG-1')).id;
    await service.call('gauges.addCertificate', {
      gaugeId: pressure,
      number: 'OLD',
      issuedOn: '2026-07-10',
      dueOn: '2026-11-10',
      doubtMilli: 60,
    });
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    await service.call('gauges.addCertificate', {
      gaugeId: pressure,
      number: 'NEW',
      issuedOn: '2026-11-25',
      dueOn: '2027-11-25',
      doubtMilli: 60,
    });
    const details = await service.call('records.details', { calibrationId: closed.records[0].calibrationId });
    expect(details.instruments).toContainEqual({
      tag: 'PG-1',
      certificate: 'OLD',
      dueOn: '2026-11-10',
      isLapsed: true,
    });
    expect(details.budget?.map(({ name }) => name)).toEqual([
      'TH-1 accuracy',
      'TH-1 certificate',
      'PG-1 accuracy',
      'PG-1 certificate',
      'dial',
      'repeats',
      'gain',
      'combined',
    ]);
    await headHash(service);
  });
});

describe('an instrument that turns out wrong', () => {
  it('re-states a card by the bias: found 0.4 too cool with a gauge 0.5 psi high is 0.2, direct acting', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    // e = -(P - 8)/2.5: P 9.0 gives -0.4; the truth was 8.5, -0.2.
    await service.call(
      'bench.close',
      closing(card, [heldEntry(card, 'occupied', { values: { foundBranch: 9_000 } })]),
    );
    const { id } = await drawerRow(service, 'PG-1');
    const trace = await service.call('gauges.trace', {
      gaugeId: id,
      biasMilli: 500,
      foundOn: '2026-11-25',
      sinceOn: '2026-11-25',
    });
    expect(trace.rows).toMatchObject([
      { tag: 'TC-N1-02', foundMilli: -400, restatedFoundMilli: -200, changes: false, notRestated: null },
    ]);
  });

  it('re-states the dial method too, and marks a verdict that changes', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    const values = { foundDial: undefined, foundBranch: undefined, foundDialAtCalibration: 71_100 };
    // e = 72 - 71.1 = 0.9 inside; with a gauge that read 0.5 psi high it is 0.9 + 0.5/2.5 = 1.1, outside.
    await service.call('bench.close', closing(card, [heldEntry(card, 'occupied', { values })]));
    const { id } = await drawerRow(service, 'PG-1');
    const trace = await service.call('gauges.trace', {
      gaugeId: id,
      biasMilli: 500,
      foundOn: '2026-11-25',
      sinceOn: '2026-11-25',
    });
    expect(trace.rows).toMatchObject([
      {
        foundMilli: 900,
        restatedFoundMilli: 1100,
        verdictFound: 'inside',
        restatedVerdictFound: 'outside',
        changes: true,
      },
    ]);
  });

  it('a thermometer that read high makes every setpoint cooler than was thought', async () => {
    const service = await sampleService();
    const { id } = await drawerRow(service, 'TH-1');
    const trace = await service.call('gauges.trace', {
      gaugeId: id,
      biasMilli: 300,
      foundOn: '2026-11-25',
      sinceOn: '2018-01-01',
    });
    const setpoints = trace.rows.filter(
      ({ kind, unit, foundMilli }) => kind === 'setpoint' && unit === 'degF' && foundMilli !== null,
    );
    expect(setpoints.length).toBeGreaterThan(1000);
    expect(setpoints.every((row) => row.restatedFoundMilli === (row.foundMilli ?? 0) - 300)).toBe(true);
    // The certificate with which the fault is found is not the last good one.
    await service.call('gauges.addCertificate', {
      gaugeId: id,
      number: 'GOOD',
      issuedOn: '2026-04-01',
      dueOn: '2027-03-01',
      doubtMilli: null,
    });
    await service.call('gauges.addCertificate', {
      gaugeId: id,
      number: 'BAD',
      issuedOn: '2026-11-25',
      dueOn: '2027-11-25',
      doubtMilli: null,
    });
    const since = await service.call('gauges.trace', { gaugeId: id, biasMilli: 300, foundOn: '2026-11-25' });
    expect([
      since.sinceOn,
      since.rows.every(({ doneOn }) => doneOn >= '2026-04-01'),
      since.rows.length > 0,
    ]).toEqual(['2026-04-01', true, true]);
  });

  it('notes the fault in the chain and opens a follow-up for each named record, in one step', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    const { id } = await drawerRow(service, 'PG-1');
    const fault = {
      gaugeId: id,
      biasMilli: -400,
      foundOn: '2026-11-25',
      sinceOn: '2026-11-01',
      note: 'dropped',
      personId: card.people[0].id,
      calibrationIds: [closed.records[0].calibrationId],
    };
    const before = await headHash(service);
    await expect(service.call('gauges.reportFault', { ...fault, calibrationIds: [1] })).rejects.toMatchObject(
      {
        details: { problems: [{ column: 'calibrationIds' }] },
      },
    );
    expect(await headHash(service)).toBe(before);
    expect((await service.call('gauges.reportFault', fault)).followUps).toBe(1);
    const { rows } = await service.call('followUps.list', {});
    expect(rows.filter(({ tag }) => tag === 'TC-N1-02').map(({ cause }) => cause)).toEqual([
      'instrument wrong: PG-1 was −0.4 psi off; occupied setpoint of 2026-11-25 reads otherwise: take it again',
    ]);
    expect((await drawerRow(service, 'PG-1')).faults).toMatchObject([{ biasMilli: -400, note: 'dropped' }]);
    await headHash(service);
  });
});

describe('corrections', () => {
  it('a record is replaced by another that names it; both stay, and what follows goes by the newer', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    const wrong = heldEntry(card, 'occupied', { values: { foundBranch: 9_000 } });
    const closed = await service.call('bench.close', closing(card, [wrong]));
    const { calibrationId } = closed.records[0];
    const again = await service.call('bench.card', { deviceId: card.deviceId, correcting: calibrationId });
    expect(again.entries).toMatchObject([
      { key: 'occupied', recorded: { values: wrong.values, outcome: 'held' } },
    ]);
    const corrects = { calibrationId, reason: 'branch misread', personId: 2 };
    const input = closing(again, [heldEntry(again, 'occupied', { values: { foundBranch: 8_200 } })], {
      corrects,
      doneOn: '2026-11-20',
    });
    const corrected = await service.call('bench.close', input);
    const newer = corrected.records[0].calibrationId;
    expect(corrected.records[0]).toMatchObject({ errorFoundMilli: -80, dueOn: '2027-11-20' });
    const [old, now] = await Promise.all(
      [calibrationId, newer].map((id) => service.call('records.details', { calibrationId: id })),
    );
    expect([old.replacedBy, now.replaces]).toMatchObject([
      { calibrationId: newer, reason: 'branch misread' },
      { calibrationId, reason: 'branch misread' },
    ]);
    const { series } = await service.call('drift.ofTag', { tag: 'TC-N1-02', role: 'occupied' });
    expect(series[0].points.at(-1)).toMatchObject({ foundMilli: -80 });
    await expect(service.call('bench.close', input)).rejects.toMatchObject({ code: 'conflict' });
    await expect(
      service.call('bench.close', { ...input, corrects: { calibrationId: newer, reason: ' ', personId: 2 } }),
    ).rejects.toMatchObject({
      details: { problems: [{ column: 'corrects.reason' }] },
    });
    await headHash(service);
  });

  it('is judged by what the register said when the record was made', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call(
      'bench.close',
      closing(card, [heldEntry(card, 'occupied', { values: { foundBranch: 9_000 } })]),
    );
    const page = await service.call('register.device', { id: card.deviceId });
    const setpoint = page.setpoints.find((one) => one.values.role === 'occupied');
    await service.call('register.save', {
      rowClass: 'setpoint',
      cells: { ...setpoint?.values, throttling_range: '8' },
      version: setpoint?.version ?? 0,
    });
    const { calibrationId } = closed.records[0];
    const again = await service.call('bench.card', { deviceId: card.deviceId, correcting: calibrationId });
    const corrected = await service.call(
      'bench.close',
      closing(again, [heldEntry(again, 'occupied', { values: { foundBranch: 9_500 } })], {
        corrects: { calibrationId, reason: 'typed wrong', personId: 1 },
      }),
    );
    // Still 2.5 psi a degree: -(9.5 - 8)/2.5.
    expect(corrected.records[0].errorFoundMilli).toBe(-600);
    await headHash(service);
  });
});

it('a correction keeps who read, and the rule of the day; who corrects is named, and no follow-up is doubled', async () => {
  const service = await sampleService();
  const card = await cardOf(service, 'TC-N1-02');
  const [reader, corrector] = card.people;
  const failed = heldEntry(card, 'occupied', { outcome: 'device failed' });
  const closed = await service.call('bench.close', closing(card, [failed], { personId: reader.id }));
  const { calibrationId } = closed.records[0];
  const all = await service.call('settings.all', {});
  await service.call('settings.saveBench', {
    ...all.bench,
    decisionRule: 'guard band U',
    version: all.benchVersion,
    why: 'asked for',
  });
  const again = await service.call('bench.card', { deviceId: card.deviceId, correcting: calibrationId });
  expect([again.rule, again.correcting?.personId]).toEqual(['simple acceptance', reader.id]);
  const corrected = await service.call(
    'bench.close',
    closing(again, [{ ...failed, note: 'typed into the wrong card' }], {
      personId: reader.id,
      corrects: { calibrationId, reason: 'note left out', personId: corrector.id },
    }),
  );
  expect(corrected.followUps).toEqual([]);
  const corrects = {
    calibrationId: corrected.records[0].calibrationId,
    reason: 'once more',
    personId: corrector.id,
  };
  const third = await service.call('bench.close', closing(again, [failed], { corrects }));
  expect(third.followUps).toEqual([]);
  const details = await service.call('records.details', {
    calibrationId: corrected.records[0].calibrationId,
  });
  expect([details.decisionRule, details.person, details.replaces?.by]).toEqual([
    'simple acceptance',
    `${reader.name} (${reader.initials})`,
    corrector.initials,
  ]);
  await headHash(service);
});

it('a plain record of one point of several is corrected alone, by a card', async () => {
  const service = await sampleService();
  const page = await service.call('register.find', { tag: 'PRV-HN' });
  const device = await service.call('register.device', { id: page.id ?? 0 });
  const plain = device.history.find(({ kind }) => kind === 'regulator low');
  const card = await service.call('bench.card', { deviceId: device.id, correcting: plain?.id ?? 0 });
  expect(card.entries.length).toBe(1);
  expect(card.entries[0].facts.points.length).toBeGreaterThan(1);
  const entry = {
    key: '',
    seen: {},
    ticks: {},
    tickNote: 'not known any more',
    adjusted: false,
    values: {},
    outcome: 'no access',
    note: '',
  } as const;
  const corrected = await service.call(
    'bench.close',
    closing(card, [entry], {
      doneOn: card.correcting?.doneOn ?? '',
      corrects: { calibrationId: plain?.id ?? 0, reason: 'it was never reached', personId: 1 },
    }),
  );
  expect(corrected.records.map(({ kind }) => kind)).toEqual(['regulator low']);
  // Nor does the correction of a correction make a record of the point beside it.
  const { calibrationId } = corrected.records[0];
  const again = await service.call('bench.card', { deviceId: device.id, correcting: calibrationId });
  const twice = await service.call(
    'bench.close',
    closing(again, [entry], {
      doneOn: again.correcting?.doneOn ?? '',
      corrects: { calibrationId, reason: 'and again', personId: 1 },
    }),
  );
  expect(twice.records.map(({ kind }) => kind)).toEqual(['regulator low']);
  await headHash(service);
});

it('a plain record is corrected to held by what it has, and so is its correction; not by nothing', async () => {
  const service = await sampleService();
  const found = await service.call('register.find', { tag: 'PRV-HN' });
  const device = await service.call('register.device', { id: found.id ?? 0 });
  const plain = device.history.find(({ kind }) => kind === 'regulator low');
  const correct = async (
    calibrationId: number,
    values: Record<string, number>,
    outcome = 'held' as const,
  ) => {
    const card = await service.call('bench.card', { deviceId: device.id, correcting: calibrationId });
    expect(card.correcting?.mayMiss).toBe(true);
    const entry = { key: '', seen: {}, ticks: {}, tickNote: '', adjusted: false, values, outcome, note: '' };
    return service.call(
      'bench.close',
      closing(card, [entry], {
        doneOn: card.correcting?.doneOn ?? '',
        instruments: { pressure: null, temperature: null, humidity: null },
        corrects: { calibrationId, reason: 'misread', personId: 1 },
      }),
    );
  };
  await expect(correct(plain?.id ?? 0, { high: 18_000 })).rejects.toMatchObject({
    details: { problems: [{ column: 'entries.0.outcome' }] },
  });
  await expect(correct(plain?.id ?? 0, { low: 14_000 })).rejects.toMatchObject({
    details: { problems: [{ column: 'entries.0.outcome' }] },
  });
  const first = await correct(plain?.id ?? 0, { low: 13_100 });
  expect(first.records).toMatchObject([{ kind: 'regulator low', outcome: 'held', errorFoundMilli: 100 }]);
  const second = await correct(first.records[0].calibrationId, { low: 13_200 });
  expect(second.records).toMatchObject([{ outcome: 'held', errorFoundMilli: 200 }]);
  await headHash(service);
});

it('a plain record of a setpoint that is not in use any more can be corrected', async () => {
  const service = await sampleService();
  const load = (rows: string) =>
    service.runJob('records.load', {
      files: [upload('past.csv', `tag,role,done_on,person,outcome,error_found\n${rows}`)],
      style: plainFileStyle,
      dryRun: false,
    });
  expect((await load('TC-N1-02,unoccupied,2026-10-01,OV,held,0.4\n')).problems).toEqual([]);
  const { id } = await service.call('register.find', { tag: 'TC-N1-02' });
  const device = await service.call('register.device', { id: id ?? 0 });
  const record = device.history.find(({ role, doneOn }) => role === 'unoccupied' && doneOn === '2026-10-01');
  const db = service.book.writer;
  await db.updateTable('test_point').set({ active: 0 }).where('role', '=', 'unoccupied').execute();
  expect((await cardOf(service, 'TC-N1-02')).entries.map(({ key }) => key)).toEqual(['occupied']);
  const card = await service.call('bench.card', { deviceId: device.id, correcting: record?.id ?? 0 });
  expect(card.entries.map(({ key }) => key)).toEqual(['unoccupied']);
});

it('an instrument with records keeps its kind and unit, and none that was retired is read from', async () => {
  const service = await sampleService();
  const card = await cardOf(service, 'TC-N1-02');
  await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
  const row = await gaugeInput(service, 'PG-1');
  await expect(service.call('gauges.save', { ...row, unit: 'kPa' })).rejects.toMatchObject({
    details: { problems: [{ column: 'unit' }] },
  });
  await service.call('gauges.save', { ...row, retiredOn: '2026-11-24' });
  const again = await cardOf(service, 'TC-N1-03');
  expect(again.instruments.some(({ tag }) => tag === 'PG-1')).toBe(false);
  const input = closing(again, [heldEntry(again, 'occupied')]);
  input.instruments.pressure = row.id;
  await expect(service.call('bench.close', input)).rejects.toMatchObject({
    details: { problems: [{ column: 'instruments.pressure' }] },
  });
  await service.call('bench.close', { ...input, doneOn: '2026-11-24' });
});

it('a card without its instruments does not close as held', async () => {
  const service = await sampleService();
  const card = await cardOf(service, 'TC-N1-02');
  const none = { pressure: null, temperature: null, humidity: null };
  const input = closing(card, [heldEntry(card, 'occupied')], { instruments: none });
  await expect(service.call('bench.close', input)).rejects.toMatchObject({
    details: { problems: [{ column: 'instruments.pressure' }, { column: 'instruments.temperature' }] },
  });
  const failed = heldEntry(card, 'occupied', { outcome: 'device failed' });
  await service.call('bench.close', closing(card, [failed], { instruments: none }));
  expect(goodInstruments(card).humidity).toBeNull();
});
