import { expect, it } from 'vitest';
import { daysBetween } from '../../shared/dates/plainDate.ts';
import { emptyService, sampleService } from '../support/books.ts';

it('the summary counts what the ledger lists', async () => {
  const service = await sampleService();
  const on = '2027-03-01';
  const summary = await service.call('due.summary', { on });
  const { rows } = await service.call('due.ledger', { on, until: '2027-05-30' });
  expect(rows.filter((row) => row.dueOn < on).length).toBe(summary.late);
  expect(rows.filter((row) => row.dueOn >= on && daysBetween(on, row.dueOn) <= 30).length).toBe(
    summary.within30,
  );
  expect(rows.filter((row) => row.dueOn >= on).length).toBe(summary.within90);
  expect(rows.map((row) => row.dueOn)).toEqual(rows.map((row) => row.dueOn).toSorted());
  expect(rows.every((row) => row.daysLate === Math.max(0, daysBetween(row.dueOn, on)))).toBe(true);
});
it('the month chart holds the late in its first month and every month after it', async () => {
  const service = await sampleService();
  const summary = await service.call('due.summary', {});
  expect([summary.months.length, summary.months[0].month, summary.months[0].late]).toEqual([
    13,
    '2026-11',
    summary.late,
  ]);
});
it('names lapsed gauges, open follow-ups, what was never calibrated, and mains whose supply was not checked', async () => {
  const service = await sampleService();
  expect(await service.call('due.summary', {})).toMatchObject({
    lapsedGauges: 1,
    openFollowUps: expect.any(Number),
    // Two late additions, and the new transmitter (two ends), receiver-controller and humidity controller.
    neverDone: 6,
    uncheckedMains: [],
  });
  expect(
    (await service.call('due.summary', { on: '2027-09-01' })).uncheckedMains.map((main) => main.tag),
  ).toEqual(['AM-E', 'AM-W', 'HM-F', 'HM-N', 'HM-S', 'ZM-S']);
});
it('an empty book has an empty ledger', async () => {
  const service = await emptyService();
  expect(await service.call('due.summary', {})).toMatchObject({ late: 0, neverDone: 0, uncheckedMains: [] });
  expect((await service.call('due.ledger', {})).rows).toEqual([]);
});
it('an interval changed for a class moves the due dates of that class, and is kept as a change', async () => {
  const service = await sampleService();
  const { classDefaults } = await service.call('settings.all', {});
  const setpoint = classDefaults.find((one) => one.kind === 'setpoint' && one.unit === 'degF');
  if (!setpoint) throw new Error('no default');
  const before = await service.call('drift.ofTag', { tag: 'TC-N1-01', role: 'occupied' });
  const { kind: _kind, unit: _unit, ...values } = setpoint;
  await service.call('settings.saveClassDefault', { ...values, intervalDays: 730, why: 'steady wing' });
  const { rows } = await service.call('due.ledger', { until: '2029-12-31' });
  const row = rows.find((one) => one.testPointId === before.series[0].testPointId);
  expect(daysBetween(row?.lastDoneOn ?? '', row?.dueOn ?? '')).toBe(730);
  expect(await service.runJob('records.verify', {})).toMatchObject({ sound: true });
});
