/** A small book with an entry of every kind in its chain, for those who go at it. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { createBook, openBook } from '../../db/book.ts';
import { fixedClock } from '../../service/clock.ts';
import { createService } from '../../service/service.ts';
import { verifyBook } from '../../service/records/verifyBook.ts';
import type { VerifyReport } from '../../shared/contract/records.ts';
import { NOW, upload } from './books.ts';
import { allTicks, cardOf, seenOf, withValues } from './bench.ts';

const root = path.resolve(import.meta.dirname, '../..');

/** `verify` without the detour over a worker. */
export async function verifyFile(
  file: string,
  anchor: { entries: number; headHash: string } | null = null,
): Promise<VerifyReport> {
  const book = await openBook(file);
  try {
    const hooks = { progress: () => {}, cancelled: () => false };
    return await verifyBook({ book, clock: fixedClock(NOW), personId: null }, { anchor }, hooks);
  } finally {
    await book.close();
  }
}

/** Makes the book at `file`. */
export async function makeSmallBook(file: string): Promise<void> {
  await (await createBook(file)).close();
  const service = createService({ book: await openBook(file), clock: fixedClock(NOW) });
  await service.runJob('register.load', {
    files: [upload('r.csv', readFileSync(path.join(root, 'tests/register/files/riverside-metric.csv')))],
    style: { pressure: 'kPa', temperature: 'degC', dates: 'dmy', decimals: 'comma', encoding: 'utf-8' },
    dryRun: false,
  });
  const shift = await service.call('settings.saveShift', {
    id: null,
    version: null,
    name: 'day',
    weekdays: '12345',
    from: '07:00',
    to: '15:00',
    minutes: 400,
    overtimeMinutes: 0,
    occupied: false,
  });
  const { id: personId } = await service.call('settings.savePerson', {
    id: null,
    version: null,
    name: 'Orla Venn',
    initials: 'OV',
    skills: [],
    active: true,
    shiftIds: [shift.id],
    absences: [],
  });
  const drawer = {
    id: null,
    version: null,
    rangeLowMilli: 0,
    accuracyForm: 'absolute',
    accuracyGrade: null,
    stepMilli: null,
    certificateDueOn: null,
    retiredOn: null,
  } as const;
  const pressure = await service.call('gauges.save', {
    ...drawer,
    tag: 'P',
    kind: 'pressure',
    unit: 'kPa',
    rangeHighMilli: 200_000,
    accuracyMilli: 500,
  });
  const temperature = await service.call('gauges.save', {
    ...drawer,
    tag: 'T',
    kind: 'temperature',
    unit: 'degC',
    rangeHighMilli: 50_000,
    accuracyMilli: 100,
  });
  await service.call('gauges.addCertificate', {
    gaugeId: pressure.id,
    number: 'C-1',
    issuedOn: '2026-01-10',
    dueOn: '2027-01-10',
    doubtMilli: 200,
  });
  const instruments = { pressure: pressure.id, temperature: temperature.id, humidity: null };
  const header = { personId, doneOn: '2026-11-20', startedAt: null, instruments };
  let last = 0;
  for (const tag of ['TR-0.1', 'TR-0.2', 'TR-0.3', 'TR-0.4']) {
    const card = await cardOf(service, tag);
    const { key, facts } = card.entries[0];
    if (facts.card !== 'setpoint') continue;
    const entry = withValues(
      {
        key,
        seen: seenOf(card, key),
        ticks: allTicks(facts),
        tickNote: '',
        adjusted: false,
        values: {},
        outcome: 'held',
        note: `visit ${tag}`,
      },
      {
        values: {
          main: 90_000,
          foundDial: 21_500,
          foundRoom: 21_500,
          foundBranch: (facts.calibrationPressureMilli ?? 0) + 4_000,
          swingOne: 0,
          swingOther: 88_000,
          dialBack: facts.dialMilli,
          moves: 'yes',
        },
      },
    );
    const closed = await service.call('bench.close', {
      deviceId: card.deviceId,
      ...header,
      entries: [entry],
    });
    last = closed.records[0].calibrationId;
  }
  const regulator = await cardOf(service, 'DR-1');
  const { facts } = regulator.entries[0];
  const entry = withValues(
    {
      key: '',
      seen: seenOf(regulator, ''),
      ticks: allTicks(facts),
      tickNote: '',
      adjusted: false,
      values: {},
      outcome: 'held',
      note: '',
    },
    {
      values: {
        outdoor: 54_000,
        low: 90_500,
        high: 119_500,
        lowShut: 92_000,
        lowShutLater: 93_000,
        highShut: 121_000,
        highShutLater: 122_000,
        reliefLifts: 172_000,
        secondsUp: 30_000,
        secondsDown: 40_000,
      },
    },
  );
  await service.call('bench.close', { deviceId: regulator.deviceId, ...header, entries: [entry] });
  const again = await service.call('bench.card', {
    deviceId: (await cardOf(service, 'TR-0.4')).deviceId,
    correcting: last,
  });
  const [wrong] = again.entries;
  if (!wrong.recorded) throw new Error('nothing to correct');
  await service.call('bench.close', {
    deviceId: again.deviceId,
    ...header,
    entries: [
      {
        key: wrong.key,
        seen: {},
        ...wrong.recorded,
        values: { ...wrong.recorded.values, foundBranch: 53_000 },
      },
    ],
    corrects: { calibrationId: last, reason: 'branch misread', personId: header.personId },
  });
  const valve = await service.call('register.find', { tag: 'HV-0.1' });
  const { version } = await service.call('register.device', { id: valve.id ?? 0 });
  await service.call('register.replace', {
    id: valve.id ?? 0,
    version,
    on: '2026-11-21',
    newTag: null,
    reason: 'diaphragm torn',
    personId,
  });
  const station = (await service.call('stations.list', {})).stations[0].id;
  const test = {
    deviceId: station,
    kind: 'regulated demand' as const,
    doneOn: '2026-11-22',
    note: '',
    readings: [
      { quantity: 'volume', valueMilli: 60_000, unit: 'gal' },
      { quantity: 'pressure at the start', valueMilli: 80_000, unit: 'psi' },
      { quantity: 'pressure at the end', valueMilli: 60_000, unit: 'psi' },
      { quantity: 'time', valueMilli: 12_000, unit: 'minutes' },
    ],
  };
  const { id: wrongTest } = await service.call('stations.addTest', test, personId);
  await service.call(
    'stations.addTest',
    { ...test, corrects: { id: wrongTest, reason: 'another receiver' } },
    personId,
  );
  const { id: leakId } = await service.call(
    'stations.addLeak',
    {
      deviceId: station,
      place: 'union at the receiver',
      foundOn: '2026-11-22',
      diameterMicro: 800_000,
      diameterUnit: 'mm',
      pressureMilli: 550_000,
      pressureUnit: 'kPa',
    },
    personId,
  );
  await service.call('stations.mendLeak', { leakId, mendedOn: '2026-11-23' }, personId);
  const all = await service.call('settings.all', {});
  await service.call('settings.saveBench', {
    ...all.bench,
    decisionRule: 'guard band U',
    version: all.benchVersion,
    why: 'agreed with the auditor',
  });
  await service.call('gauges.reportFault', {
    gaugeId: pressure.id,
    biasMilli: 300,
    foundOn: '2026-11-24',
    sinceOn: '2026-11-01',
    note: '',
    personId,
    calibrationIds: [last + 1],
  });
  const { roundId } = await service.runJob('rounds.draw', {
    from: '2027-01-01',
    to: '2027-12-31',
    evaluations: 2_000,
  });
  const { round } = await service.call('rounds.show', { id: roundId });
  await service.call('rounds.issue', { id: roundId, version: round.version });
  await service.close();
}
