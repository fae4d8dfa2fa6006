/** book.json: the site, its rules, its people and instruments. */
import type { BookDb } from '../../db/book.ts';
import { siteOf } from '../settings/handlers.ts';
import { benchRulesOf } from '../settings/benchRules.ts';
import { certificatesOf } from '../../db/gauges.ts';
import { formatMilli } from '../../shared/units/units.ts';
import type { Resolved } from './scope.ts';
import { ucumOf } from './units.ts';

const figure = (value: number | null): number | null => (value === null ? null : Number(formatMilli(value)));

/** People by initials: names stay in the book. */
export async function bookJson(db: BookDb, { scope }: Resolved): Promise<unknown> {
  const { value: site } = await siteOf(db);
  const { value: bench } = await benchRulesOf(db);
  const gauges = await db.selectFrom('gauge').selectAll().orderBy('tag').execute();
  const certificates = await certificatesOf(
    db,
    gauges.map(({ id }) => id),
  );
  const defaults = await db.selectFrom('class_default').selectAll().orderBy('kind').orderBy('unit').execute();
  return {
    site: { name: site.name, pressure_unit: site.pressureUnit, temperature_unit: site.temperatureUnit },
    scope,
    decision_rule: bench.decisionRule,
    people: (await db.selectFrom('person').select(['initials', 'active']).orderBy('initials').execute()).map(
      ({ initials, active }) => ({ id: initials, active: active === 1 }),
    ),
    instruments: gauges.map((gauge) => ({
      id: gauge.tag,
      kind: gauge.kind,
      unit: ucumOf(gauge.unit),
      range: [figure(gauge.range_low_milli), figure(gauge.range_high_milli)],
      accuracy: {
        form: gauge.accuracy_form,
        value: figure(gauge.accuracy_milli),
        grade: gauge.accuracy_grade,
      },
      retired_on: gauge.retired_on,
      certificates: certificates
        .filter(({ gauge_id }) => gauge_id === gauge.id)
        .toReversed()
        .map(({ number, issued_on, due_on, doubt_milli }) => ({
          number,
          issued_on,
          due_on,
          doubt_k2: figure(doubt_milli),
        })),
    })),
    class_defaults: defaults.map((row) => ({
      test_point: row.kind,
      unit: ucumOf(row.unit),
      tolerance: figure(row.tolerance_milli),
      tolerance_as_left: figure(row.tolerance_left_milli),
      action_limit: figure(row.action_limit_milli),
      interval_days: row.interval_days,
    })),
  };
}
