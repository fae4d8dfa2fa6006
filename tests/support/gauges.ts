/** Rows of the gauge drawer, and what saves one of them. */
import type { Service } from '../../service/service.ts';

export async function drawerRow(service: Service, tag: string) {
  const row = (await service.call('gauges.list', {})).rows.find((one) => one.tag === tag);
  if (!row) throw new Error(`no ${tag}`);
  return row;
}

/** The present values of an instrument as `gauges.save` takes them. */
export async function gaugeInput(service: Service, tag: string) {
  const {
    records: _r,
    certificates: _c,
    faults: _f,
    fitness: _t,
    isLapsed: _l,
    limitMilli: _m,
    ...input
  } = await drawerRow(service, tag);
  return input;
}
