/** Site, people, calendar, defaults and instruments. */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import { refreshDueOfClass } from '../../db/due.ts';
import { chainHead } from '../../db/ledger.ts';
import { appendSettingChange, appendSettingChanges } from '../../db/records.ts';
import { readSetting, writeSetting } from '../../db/settings.ts';
import path from 'node:path';
import { refuseField } from '../../shared/contract/errors.ts';
import { defaultPlanning } from '../../shared/contract/settings.ts';
import type { PlanningOptions, Site } from '../../shared/contract/settings.ts';
import type { GroupHandlers } from '../context.ts';
import { requireVersion } from '../register/requireVersion.ts';
import { classesAmong } from '../../shared/trade/words.ts';
import type { Unit } from '../../shared/units/units.ts';
import { benchRulesOf } from './benchRules.ts';

/** Above these no tolerance means anything: the range of the register’s own columns, common practice. */
const mostTolerance: Partial<Record<Unit, number>> = {
  degF: 20,
  degC: 12,
  psi: 10,
  kPa: 70,
  minutes: 240,
  percent: 30,
};
const MOST_TOLERANCE = 100;

const benchWords = [
  ['decisionRule', 'decision rule'],
  ['freezeLockoutMilli', 'freeze lockout'],
] as const;

const startSite: Site = { name: '', pressureUnit: 'psi', temperatureUnit: 'degF', timeZone: '' };

/** The site's name and units. */
export async function siteOf(db: BookDb): Promise<{ value: Site; version: number }> {
  const held = await readSetting<Partial<Site>>(db, 'site', startSite);
  return { value: { ...startSite, ...held.value }, version: held.version };
}

/** The planner's prices and minutes; what an older book does not hold has its starting value. */
export async function planningOf(db: BookDb): Promise<{ value: PlanningOptions; version: number }> {
  const held = await readSetting<PlanningOptions>(db, 'planning', defaultPlanning);
  return { value: { ...defaultPlanning, ...held.value }, version: held.version };
}

async function countOf(
  db: BookDb,
  table: 'device' | 'test_point' | 'calibration' | 'ledger',
): Promise<number> {
  const row = await db
    .selectFrom(table)
    .select((eb) => eb.fn.countAll<number>().as('n'))
    .executeTakeFirstOrThrow();
  return row.n;
}

async function people(db: BookDb) {
  const rows = await db
    .selectFrom('person')
    .select(['id', 'name', 'initials', 'skills', 'active', 'version'])
    .orderBy('initials')
    .execute();
  const shifts = await db
    .selectFrom('person_shift')
    .select(['person_id', 'shift_pattern_id'])
    .orderBy('shift_pattern_id')
    .execute();
  const absences = await db
    .selectFrom('absence')
    .select(['person_id', 'from_on', 'to_on', 'reason'])
    .orderBy('from_on')
    .execute();
  return rows.map((row) => ({
    id: row.id,
    name: row.name,
    initials: row.initials,
    skills: classesAmong(JSON.parse(row.skills) as string[]),
    active: row.active === 1,
    shiftIds: shifts.filter((one) => one.person_id === row.id).map((one) => one.shift_pattern_id),
    absences: absences
      .filter((one) => one.person_id === row.id)
      .map((one) => ({ from: one.from_on, to: one.to_on, reason: one.reason })),
    version: row.version,
  }));
}

export const settingsHandlers: GroupHandlers<'settings'> = {
  book: async ({ db, book, clock }) => {
    const head = await chainHead(db);
    const { value: site } = await siteOf(db);
    const sample = await readSetting(db, 'sample', false);
    return {
      fileName: path.basename(book.file),
      site,
      isSample: sample.value,
      today: clock.today(),
      devices: await countOf(db, 'device'),
      testPoints: await countOf(db, 'test_point'),
      calibrations: await countOf(db, 'calibration'),
      ledgerEntries: head.seq,
      headHash: head.hash,
    };
  },

  all: async ({ db }) => {
    const site = await siteOf(db);
    const planning = await planningOf(db);
    const bench = await benchRulesOf(db);
    const shifts = await db
      .selectFrom('shift_pattern')
      .select([
        'id',
        'name',
        'weekdays',
        'from_time',
        'to_time',
        'minutes',
        'overtime_minutes',
        'occupied',
        'version',
      ])
      .orderBy('from_time')
      .execute();
    return {
      site: site.value,
      siteVersion: site.version,
      planning: planning.value,
      planningVersion: planning.version,
      bench: bench.value,
      benchVersion: bench.version,
      people: await people(db),
      shifts: shifts.map((row) => ({
        id: row.id,
        name: row.name,
        weekdays: row.weekdays,
        from: row.from_time,
        to: row.to_time,
        minutes: row.minutes,
        overtimeMinutes: row.overtime_minutes,
        occupied: row.occupied === 1,
        version: row.version,
      })),
      daysOff: (await db.selectFrom('day_off').select(['on_date', 'name']).orderBy('on_date').execute()).map(
        (row) => ({ on: row.on_date, name: row.name }),
      ),
      classDefaults: (
        await db
          .selectFrom('class_default')
          .select([
            'id',
            'kind',
            'unit',
            'tolerance_milli',
            'tolerance_left_milli',
            'action_limit_milli',
            'interval_days',
            'minutes',
            'weight',
            'version',
          ])
          .orderBy('id')
          .execute()
      ).map((row) => ({
        id: row.id,
        kind: row.kind,
        unit: row.unit,
        toleranceMilli: row.tolerance_milli,
        toleranceLeftMilli: row.tolerance_left_milli,
        actionLimitMilli: row.action_limit_milli,
        intervalDays: row.interval_days,
        minutes: row.minutes,
        weight: row.weight,
        version: row.version,
      })),
    };
  },

  saveSite: async ({ db }, { version, ...site }) => {
    const held = await siteOf(db);
    requireVersion(version, { version: held.version, values: held.value });
    await writeSetting(db, 'site', site, held.version);
    return {};
  },

  savePlanning: async ({ db, clock, personId }, { version, ...options }) => {
    const held = await planningOf(db);
    requireVersion(version, { version: held.version, values: held.value });
    await writeSetting(db, 'planning', options, held.version);
    await appendSettingChanges(
      db,
      { before: held.value, after: options },
      { subject: 'planning', at: clock.now(), person_id: personId, why: '' },
    );
    return {};
  },

  saveBench: async ({ db, clock, personId }, { version, why, ...rules }) => {
    const held = await benchRulesOf(db);
    requireVersion(version, { version: held.version, values: held.value });
    await writeSetting(db, 'bench', rules, held.version);
    await appendSettingChanges(
      db,
      { before: held.value, after: rules, named: benchWords },
      { subject: 'bench', at: clock.now(), person_id: personId, why },
    );
    return {};
  },

  savePerson: async ({ db, clock, personId: by }, { id, version, shiftIds, absences, ...person }) => {
    const row = {
      name: person.name,
      initials: person.initials,
      skills: JSON.stringify(person.skills),
      active: person.active ? 1 : 0,
    } as const;
    let personId = id;
    if (personId === null) {
      const added = await db.insertInto('person').values(row).returning('id').executeTakeFirstOrThrow();
      personId = added.id;
    } else {
      const held = await db
        .selectFrom('person')
        .select(['version', 'name', 'initials'])
        .where('id', '=', personId)
        .executeTakeFirst();
      requireVersion(version, held ? { version: held.version, values: held } : null);
      if (held && (held.name !== row.name || held.initials !== row.initials))
        await appendSettingChange(db, {
          what: 'name',
          subject: `person ${personId}`,
          device_id: null,
          from_value: `${held.name} (${held.initials})`,
          to_value: `${row.name} (${row.initials})`,
          at: clock.now(),
          person_id: by,
          why: '',
        });
      await db
        .updateTable('person')
        .set({ ...row, version: sql<number>`version + 1` })
        .where('id', '=', personId)
        .execute();
    }
    const owner = personId;
    await db.deleteFrom('person_shift').where('person_id', '=', owner).execute();
    if (shiftIds.length > 0)
      await db
        .insertInto('person_shift')
        .values([...new Set(shiftIds)].map((shift) => ({ person_id: owner, shift_pattern_id: shift })))
        .execute();
    await db.deleteFrom('absence').where('person_id', '=', owner).execute();
    if (absences.length > 0)
      await db
        .insertInto('absence')
        .values(
          absences.map((one) => ({ person_id: owner, from_on: one.from, to_on: one.to, reason: one.reason })),
        )
        .execute();
    return { id: owner };
  },

  saveShift: async ({ db }, { id, version, ...shift }) => {
    const row = {
      name: shift.name,
      weekdays: [...new Set(shift.weekdays)].sort().join(''),
      from_time: shift.from,
      to_time: shift.to,
      minutes: shift.minutes,
      overtime_minutes: shift.overtimeMinutes,
      occupied: shift.occupied ? 1 : 0,
    } as const;
    if (id === null)
      return db.insertInto('shift_pattern').values(row).returning('id').executeTakeFirstOrThrow();
    const held = await db
      .selectFrom('shift_pattern')
      .select(['version', 'name'])
      .where('id', '=', id)
      .executeTakeFirst();
    requireVersion(version, held ? { version: held.version, values: held } : null);
    await db
      .updateTable('shift_pattern')
      .set({ ...row, version: sql<number>`version + 1` })
      .where('id', '=', id)
      .execute();
    return { id };
  },

  saveDaysOff: async ({ db }, { daysOff }) => {
    const dates = new Set<string>();
    for (const { on } of daysOff) {
      if (dates.has(on)) refuseField('daysOff', on, 'the date stands twice');
      dates.add(on);
    }
    await db.deleteFrom('day_off').execute();
    if (daysOff.length > 0)
      await db
        .insertInto('day_off')
        .values(daysOff.map(({ on, name }) => ({ on_date: on, name })))
        .execute();
    return {};
  },

  saveClassDefault: async ({ db, clock, personId }, { id, version, why, ...values }) => {
    const held = await db
      .selectFrom('class_default')
      .select([
        'kind',
        'unit',
        'tolerance_milli',
        'tolerance_left_milli',
        'action_limit_milli',
        'interval_days',
        'minutes',
        'weight',
        'version',
      ])
      .where('id', '=', id)
      .executeTakeFirst();
    requireVersion(version, held ? { version: held.version, values: held } : null);
    if (!held) return {};
    const most = mostTolerance[held.unit] ?? MOST_TOLERANCE;
    for (const column of ['toleranceMilli', 'toleranceLeftMilli', 'actionLimitMilli'] as const)
      if (values[column] > most * 1000)
        refuseField(column, String(values[column]), `at most ${most} ${held.unit}`);
    const row = {
      tolerance_milli: values.toleranceMilli,
      tolerance_left_milli: values.toleranceLeftMilli,
      action_limit_milli: values.actionLimitMilli,
      interval_days: values.intervalDays,
      minutes: values.minutes,
      weight: values.weight,
    };
    await db
      .updateTable('class_default')
      .set({ ...row, version: held.version + 1 })
      .where('id', '=', id)
      .execute();
    await appendSettingChanges(
      db,
      { before: held, after: row },
      { subject: `class ${held.kind} ${held.unit}`, at: clock.now(), person_id: personId, why },
    );
    if (row.interval_days !== held.interval_days) await refreshDueOfClass(db, held);
    return {};
  },
};
