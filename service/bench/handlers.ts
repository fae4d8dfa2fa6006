/** The bench card of a room controller: what it should read, its draft, and its closing. */
import { newestRecords, recentCalibrations } from '../../db/records.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { GroupHandlers } from '../context.ts';
import { toCalibrationSummary } from '../records/summary.ts';
import { closeCard, controllerRow } from './closeCard.ts';
import { changeoverOf, setpointFactsOf } from './setpointFacts.ts';

export const benchHandlers: GroupHandlers<'bench'> = {
  card: async ({ db }, { deviceId }) => {
    const controller = await controllerRow(db, deviceId);
    const pressureUnit = controller.pressure_unit ?? 'psi';
    const recent = await recentCalibrations(db, deviceId, 50);
    const newest = await newestRecords(db, deviceId);
    const setpoints = (await setpointFactsOf(db, deviceId)).filter((one) => one.active);
    const draft = await db
      .selectFrom('bench_draft')
      .select(['draft_json as json', 'saved_at as savedAt'])
      .where('device_id', '=', deviceId)
      .executeTakeFirst();
    const actuators = await db
      .selectFrom('supplies as s')
      .innerJoin('device as d', 'd.id', 's.to_id')
      .innerJoin('actuator as a', 'a.device_id', 'd.id')
      .select(['d.tag', 'a.normal_position as normalPosition', 'a.duty'])
      .where('s.from_id', '=', deviceId)
      .where('d.retired_on', 'is', null)
      .orderBy('d.tag')
      .execute();
    return {
      deviceId,
      tag: controller.tag,
      name: controller.name,
      controllerKind: controller.controller_kind,
      place: [controller.building, controller.level, controller.room, controller.room_name]
        .filter((word) => word)
        .join(' · '),
      pressureUnit,
      temperatureUnit: controller.temperature_unit ?? 'degF',
      ...changeoverOf(controller),
      main:
        controller.main_id === null || controller.main_tag === null || controller.low_pressure_milli === null
          ? null
          : {
              id: controller.main_id,
              tag: controller.main_tag,
              kind: controller.main_kind ?? 'single',
              lowMilli: controller.low_pressure_milli,
              highMilli: controller.high_pressure_milli,
              lowMeans: controller.low_means,
              highMeans: controller.high_means,
              pressureUnit: controller.main_unit ?? 'psi',
            },
      retiredOn: controller.retired_on,
      setpoints: setpoints.map(
        ({
          pressureUnit: _p,
          temperatureUnit: _t,
          mainPressureMilli: _m,
          actionLimitMilli: _a,
          active: _x,
          ...one
        }) => {
          const last = recent.find(
            (row) => row.test_point_id === one.testPointId && row.replaced_by === null,
          );
          return {
            ...one,
            newestRecordId: newest.get(one.testPointId) ?? null,
            last: last ? toCalibrationSummary(last) : null,
          };
        },
      ),
      actuators,
      people: await db
        .selectFrom('person')
        .select(['id', 'name', 'initials'])
        .where('active', '=', 1)
        .orderBy('initials')
        .execute(),
      gauges: await db
        .selectFrom('gauge')
        .select(['id', 'tag', 'kind', 'certificate_due_on as certificateDueOn'])
        .where('retired_on', 'is', null)
        .orderBy('tag')
        .execute(),
      draft: draft ?? null,
    };
  },

  saveDraft: async ({ db, clock }, { deviceId, json, over }) => {
    await controllerRow(db, deviceId);
    const savedAt = clock.now();
    try {
      JSON.parse(json);
    } catch {
      throw new AppError('invalid_input', 'The draft is not readable.', {
        problems: [{ column: 'json', value: json.slice(0, 40), reason: 'not JSON' }],
      });
    }
    const held = await db
      .selectFrom('bench_draft')
      .select(['draft_json as json', 'saved_at as savedAt'])
      .where('device_id', '=', deviceId)
      .executeTakeFirst();
    if ((held?.json ?? null) !== over)
      throw new AppError('conflict', 'This card was changed or closed in another window.', {
        current: held ?? null,
      });
    const row = { draft_json: json, saved_at: savedAt };
    await db
      .insertInto('bench_draft')
      .values({ device_id: deviceId, ...row })
      .onConflict((oc) => oc.column('device_id').doUpdateSet(row))
      .execute();
    return { savedAt };
  },

  dropDraft: async ({ db }, { deviceId }) => {
    await db.deleteFrom('bench_draft').where('device_id', '=', deviceId).execute();
    return { deviceId };
  },

  close: closeCard,
};
