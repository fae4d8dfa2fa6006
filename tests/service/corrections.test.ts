/** Corrections: what a record keeps of its day holds, and follow-ups go with what they followed. */
import { describe, expect, it } from 'vitest';
import { connect } from '../../db/driver.ts';
import type { Service } from '../../service/service.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { cardOf, closing, heldEntry } from '../support/bench.ts';
import { headHash, plainFileStyle, sampleService, upload } from '../support/books.ts';
import { gaugeInput } from '../support/gauges.ts';

async function pageOf(service: Service, tag: string) {
  const { id } = await service.call('register.find', { tag });
  return service.call('register.device', { id: id ?? 0 });
}

async function openOf(service: Service, tag: string) {
  const { rows } = await service.call('followUps.list', {});
  return rows.filter((row) => row.tag === tag);
}

const failed = {
  outcome: 'device failed' as const,
  values: { foundBranch: 0, swingOne: 0, swingOther: 0 },
};

async function correct(service: Service, calibrationId: number, entry: Parameters<typeof heldEntry>[2]) {
  const { deviceId } = (await service.call('records.details', { calibrationId })) as { deviceId: number };
  const card = await service.call('bench.card', { deviceId, correcting: calibrationId });
  return service.call(
    'bench.close',
    closing(card, [heldEntry(card, card.entries[0].key, entry)], {
      doneOn: card.correcting?.doneOn,
      corrects: { calibrationId, reason: 'read again on the paper', personId: 1 },
    }),
  );
}

describe('a correction keeps the day of its record', () => {
  it('a plain record is judged by the range and tolerance that it keeps, not by the register of today', async () => {
    const service = await sampleService();
    const loaded = await service.runJob('records.load', {
      files: [
        upload(
          'past.csv',
          'tag,role,done_on,person,outcome,main_pressure,dial,room_temperature,branch_found\nTC-N1-02,occupied,2026-10-01,OV,held,13,72,72,8.4\n',
        ),
      ],
      style: plainFileStyle,
      dryRun: false,
    });
    expect(loaded.problems).toEqual([]);
    const before = await pageOf(service, 'TC-N1-02');
    const record = before.history.find(({ doneOn }) => doneOn === '2026-10-01');
    const setpoint = before.setpoints.find((one) => one.values.role === 'occupied');
    await service.call('register.save', {
      rowClass: 'setpoint',
      cells: { ...setpoint?.values, throttling_range: '12' },
      version: setpoint?.version ?? 0,
    });
    const main = await pageOf(service, 'HM-N');
    await service.call('register.save', {
      rowClass: 'main',
      cells: { ...main.values, low_pressure: '6', high_pressure: '25' },
      version: main.version,
    });
    const card = await service.call('bench.card', { deviceId: before.id, correcting: record?.id ?? 0 });
    const entry = heldEntry(card, 'occupied', {
      values: { main: 13_000, swingOther: 13_000, foundBranch: 8_400 },
      note: 'legible now',
    });
    const corrected = await service.call(
      'bench.close',
      closing(card, [entry], {
        doneOn: '2026-10-01',
        corrects: { calibrationId: record?.id ?? 0, reason: 'a remark', personId: 1 },
      }),
    );
    expect(corrected.records[0].errorFoundMilli).toBe(record?.errorFoundMilli);
    await headHash(service);
  });

  it('a card’s record is judged with its instrument as it was then', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    const { calibrationId } = closed.records[0];
    await service.call('gauges.save', {
      ...(await gaugeInput(service, 'PG-1')),
      accuracyForm: 'absolute',
      accuracyMilli: 3_000,
      accuracyGrade: null,
    });
    const again = await correct(service, calibrationId, { note: 'a remark' });
    const [before, after] = await Promise.all(
      [calibrationId, again.records[0].calibrationId].map((id) =>
        service.call('records.details', { calibrationId: id }),
      ),
    );
    expect([after.doubtFoundMilli, after.verdictFound]).toEqual([
      before.doubtFoundMilli,
      before.verdictFound,
    ]);
    await headHash(service);
  });
});

describe('follow-ups and what they followed', () => {
  async function failOccupied(service: Service): Promise<OutputOf<'bench.close'>> {
    const card = await cardOf(service, 'TC-N1-02');
    return service.call('bench.close', closing(card, [heldEntry(card, 'occupied', failed)]));
  }

  it('are closed by a record of the same setpoint only', async () => {
    const service = await sampleService();
    const [{ id }] = (await failOccupied(service)).followUps;
    const card = await cardOf(service, 'TC-N1-02');
    const other = await service.call('bench.close', closing(card, [heldEntry(card, 'unoccupied')]));
    expect(other.closable).toEqual([]);
    const [open] = await openOf(service, 'TC-N1-02');
    const close = (calibrationId: number) =>
      service.call('followUps.close', {
        id,
        version: open.version,
        personId: 1,
        note: 'done',
        calibrationId,
      });
    await expect(close(other.records[0].calibrationId)).rejects.toMatchObject({ code: 'invalid_input' });
    const again = await cardOf(service, 'TC-N1-02');
    const same = await service.call('bench.close', closing(again, [heldEntry(again, 'occupied')]));
    expect(same.closable.map((one) => one.id)).toEqual([id]);
    await close(same.records[0].calibrationId);
  });

  it('are open again when the record that closed them is corrected away, and go with it where it is not', async () => {
    const service = await sampleService();
    const [{ id }] = (await failOccupied(service)).followUps;
    const card = await cardOf(service, 'TC-N1-02');
    const good = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    const [open] = await openOf(service, 'TC-N1-02');
    await service.call('followUps.close', {
      id,
      version: open.version,
      personId: 1,
      note: 'diaphragm changed',
      calibrationId: good.records[0].calibrationId,
    });
    const still = await correct(service, good.records[0].calibrationId, { values: { foundBranch: 8_200 } });
    expect(await openOf(service, 'TC-N1-02')).toEqual([]);
    await correct(service, still.records[0].calibrationId, {
      outcome: 'no access',
      values: Object.fromEntries(
        Object.keys(heldEntry(card, 'occupied').values).map((key) => [key, undefined]),
      ),
    });
    expect(await openOf(service, 'TC-N1-02')).toMatchObject([
      { id, closedAt: null, closingNote: expect.stringContaining('open again') },
    ]);
    await headHash(service);
  });

  it('a failure that is corrected to right and back has one that is open', async () => {
    const service = await sampleService();
    const first = await failOccupied(service);
    const right = await correct(service, first.records[0].calibrationId, {});
    const [open] = await openOf(service, 'TC-N1-02');
    await service.call('followUps.close', {
      id: open.id,
      version: open.version,
      personId: 1,
      note: 'it was right',
      calibrationId: right.records[0].calibrationId,
    });
    await correct(service, right.records[0].calibrationId, failed);
    expect((await openOf(service, 'TC-N1-02')).length).toBe(1);
  });

  it('what does not move has one of its own, beside a held record that does not close it', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call(
      'bench.close',
      closing(card, [heldEntry(card, 'occupied', { values: { moves: 'no' } })]),
    );
    expect(closed.followUps.map(({ cause }) => cause)).toEqual(['the valve or damper does not follow']);
    expect([closed.records[0].outcome, closed.closable]).toEqual(['held', []]);
  });

  it('one more device of a main is joined to the common one', async () => {
    const service = await sampleService();
    const blame = async (tag: string): Promise<void> => {
      const card = await cardOf(service, tag);
      const keys = Object.keys(heldEntry(card, 'occupied').values);
      const entry = heldEntry(card, 'occupied', {
        outcome: 'supply not right',
        values: { ...Object.fromEntries(keys.map((key) => [key, undefined])), main: 15_500 },
      });
      await service.call('bench.close', closing(card, [entry]));
    };
    for (const tag of ['TC-N1-02', 'TC-N1-03']) await blame(tag);
    const [cause] = (await service.call('followUps.list', {})).common;
    const { id } = await service.call('followUps.join', {
      ids: cause.followUps.map((one) => one.id),
      deviceId: cause.mainId,
      personId: 1,
      cause: 'main low',
    });
    expect((await service.call('followUps.list', {})).common).toEqual([]);
    await blame('TC-N2-03');
    const [more] = (await service.call('followUps.list', {})).common;
    expect([more.joined, more.followUps.map(({ tag }) => tag)]).toEqual([id, ['TC-N2-03']]);
    const joined = await service.call('followUps.join', {
      ids: more.followUps.map((one) => one.id),
      deviceId: more.on[0].deviceId,
      personId: 1,
      cause: 'main low',
    });
    expect(joined.id).toBe(id);
    expect((await service.call('followUps.list', {})).common).toEqual([]);
  });

  it('a fault reported twice asks for nothing twice, nor of what is retired', async () => {
    const service = await sampleService();
    const card = await cardOf(service, 'TC-N1-02');
    const closed = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
    const gauge = (await service.call('gauges.list', {})).rows.find(({ tag }) => tag === 'PG-1');
    const report = () =>
      service.call('gauges.reportFault', {
        gaugeId: gauge?.id ?? 0,
        foundOn: '2026-11-25',
        sinceOn: '2026-11-25',
        biasMilli: 1_500,
        note: 'dropped',
        personId: 1,
        calibrationIds: [closed.records[0].calibrationId],
      });
    expect((await report()).followUps).toBe(1);
    expect((await report()).followUps).toBe(0);
  });
});

describe('verify', () => {
  it.each([
    [
      'the decision rule',
      `update setting set value_json = json_set(value_json, '$.decisionRule', 'simple acceptance') where key = 'bench'`,
      'decision rule',
    ],
    [
      'the tolerance of a class',
      `update class_default set tolerance_milli = tolerance_milli * 2 where kind = 'setpoint' and unit = 'degF'`,
      'tolerance_milli',
    ],
    [
      'the day a device was retired',
      `update device set retired_on = null where tag = 'TC-N1-03-OUT1'`,
      'retired_on',
    ],
  ])('finds %s changed past the chain', async (_what, statement, words) => {
    const service = await sampleService();
    const { bench, benchVersion, classDefaults } = await service.call('settings.all', {});
    await service.call('settings.saveBench', {
      ...bench,
      decisionRule: 'guard band U',
      version: benchVersion,
      why: 'asked for',
    });
    const [{ kind: _k, unit: _u, ...one }] = classDefaults.filter(
      ({ kind, unit }) => kind === 'setpoint' && unit === 'degF',
    );
    await service.call('settings.saveClassDefault', {
      ...one,
      toleranceMilli: one.toleranceMilli + 100,
      why: 'asked for',
    });
    const device = await pageOf(service, 'TC-N1-03');
    await service.call('register.replace', {
      id: device.id,
      version: device.version,
      newTag: null,
      on: '2026-11-25',
      reason: 'worn',
      personId: 1,
    });
    await headHash(service);
    const connection = connect(service.book.file);
    connection.exec(statement);
    connection.close();
    const report = await service.runJob('records.verify', {});
    expect(report.problems.filter(({ check }) => check === 'settings')).toMatchObject([
      { detail: expect.stringContaining(words) },
    ]);
  });

  it('an anchor that names no entry and yet a head is refused', async () => {
    const service = await sampleService();
    const made = await service.call('records.anchor', {});
    const report = await service.runJob('records.verify', { anchor: { ...made, entries: 0 } });
    expect(report.problems.map(({ check }) => check)).toEqual(['anchor']);
  });
});
