/** `energy.rank`: what each drifted setpoint and fault costs in a year, and what mending it saves in order. */
import { fullLoads, openSwitchFaults, stationPower, switchingMinutes } from '../../db/energy.ts';
import type { BookDb } from '../../db/book.ts';
import { allLeaks } from '../../db/airRecords.ts';
import type {
  EnergyAmounts,
  EnergyEntry,
  EnergyRanking,
  EnergySettings,
} from '../../shared/contract/energy.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { sumOf } from '../../shared/energy/band.ts';
import type { Band } from '../../shared/energy/band.ts';
import { energyCautions } from '../../shared/energy/cautions.ts';
import type { JobHandler, JobHooks } from '../context.ts';
import { airEntries } from './airFaults.ts';
import type { Draft } from './amounts.ts';
import { overlapEntries } from './overlaps.ts';
import { switchFaults } from './switchFaults.ts';
import type { SwitchFault } from './switchFaults.ts';
import { weighZone } from './weighZone.ts';
import type { Weighed } from './weighZone.ts';
import { dayPoint, energyFacts, periodOf } from './zones.ts';
import type { EnergyFacts, ZoneFacts } from './zones.ts';

function joined(amounts: readonly EnergyAmounts[]): EnergyAmounts {
  const sum = (key: keyof EnergyAmounts): Band | null => {
    const own = amounts.flatMap((one) => one[key] ?? []);
    return own.length === 0 ? null : sumOf(own);
  };
  return { degreeHours: sum('degreeHours'), therms: sum('therms'), kwh: sum('kwh'), money: sum('money') };
}

/** One entry for a switchover that does not work, over all the zones that it leaves at the day's setpoint. */
function switchEntry(fault: SwitchFault, parts: readonly Weighed[], zones: readonly ZoneFacts[]): Draft {
  const lacking = parts.filter(({ alone }) => alone.therms === null).length;
  return {
    kind: 'switchover',
    deviceId: fault.deviceId,
    tag: fault.tag,
    role: '',
    building: zones[0]?.building ?? null,
    main: zones[0]?.main ?? null,
    words: `${fault.words} ${parts.length} ${parts.length === 1 ? 'zone stays' : 'zones stay'} at the occupied setpoint.`,
    errorDegF: null,
    isOutside: null,
    alone: joined(parts.map(({ alone }) => alone)),
    inOrder: joined(parts.map(({ inOrder }) => inOrder)),
    period: null,
    method: parts[0]?.method ?? '',
    base: `${parts[0]?.base ?? ''}${lacking > 0 ? `; ${lacking} of ${parts.length} zones without area or loss are in the degree-hours only` : ''}`,
    confidence: lacking > 0 ? 'low' : 'medium',
    minutes: fault.minutes,
  };
}

function setpointEntry(zone: ZoneFacts, part: Weighed): Draft {
  const { point } = part;
  return {
    kind: part.kind,
    deviceId: zone.deviceId,
    tag: zone.tag,
    role: point?.role ?? '',
    building: zone.building,
    main: zone.main,
    words: part.words,
    errorDegF: point?.nowDegF ?? null,
    isOutside: point?.nowDegF == null ? null : Math.abs(point.nowDegF) > point.toleranceDegF + 1e-9,
    alone: part.alone,
    inOrder: part.inOrder,
    period: part.period,
    method: part.method,
    base: part.base,
    confidence: part.confidence,
    minutes: point?.minutes ?? null,
  };
}

/**
 * What is weighed against what. Of what saves: money first, then hours of error, then kWh, then what cannot be weighed; only
 * then what costs, by the same order. In each the greatest first.
 */
function weightOf({ money, degreeHours, kwh }: EnergyAmounts): [number, number] {
  const [kind, amount] = money ? [3, money] : degreeHours ? [2, degreeHours] : kwh ? [1, kwh] : [0, null];
  const value = amount?.central ?? 0;
  return [value < 0 ? kind - 4 : kind, value];
}

function byWeight(a: EnergyAmounts, b: EnergyAmounts): number {
  const [x, y] = [weightOf(a), weightOf(b)];
  return y[0] - x[0] || y[1] - x[1];
}

/** The minutes of a repair that no test point has minutes for are the site's guess. A setpoint has its own, or none. */
function withRepair(draft: Draft, { repairMinutes }: EnergySettings): Draft {
  if (draft.minutes !== null || draft.role !== '') return draft;
  return {
    ...draft,
    minutes: repairMinutes,
    base: `${draft.base}; ${repairMinutes} min of work, a guess of the settings`,
  };
}

function ranked(drafts: readonly Draft[]): EnergyEntry[] {
  const sorted = drafts.toSorted((a, b) => {
    return byWeight(a.alone, b.alone) || a.tag.localeCompare(b.tag) || a.role.localeCompare(b.role);
  });
  return sorted.map((draft, index) => {
    const value = draft.alone.money ?? draft.alone.degreeHours;
    return {
      ...draft,
      rank: index + 1,
      perHour: value && draft.minutes ? (value.central / draft.minutes) * 60 : null,
    };
  });
}

function lackingOf({ settings, weather, zones }: EnergyFacts): string[] {
  const withoutK = zones.filter(({ k }) => k === null).length;
  const withoutEfficiency = zones.filter(({ k, efficiency }) => k !== null && efficiency === null).length;
  const byUsualGain = zones.filter(({ isGainKnown }) => !isGainKnown).length;
  return [
    ...(weather === null
      ? ['No weather is chosen: setpoints rank by error times hours, without fuel and money.']
      : []),
    ...(withoutK > 0
      ? [
          `${withoutK} of ${zones.length} zones have no area, or their building no loss or floor area: no fuel, no money.`,
        ]
      : []),
    ...(withoutEfficiency > 0
      ? [`${withoutEfficiency} zones stand in a building without a heating efficiency: no fuel, no money.`]
      : []),
    ...(byUsualGain > 0
      ? [
          `${byUsualGain} zones take a balance point ${settings.balanceBelowDegF} °F below their setpoint: loss and gains of their building are not known.`,
        ]
      : []),
    ...(settings.heatPricePerTherm === null ? ['No price of heat: no money for setpoints.'] : []),
    ...(settings.electricityPricePerKwh === null ? ['No price of electricity: no money for air.'] : []),
  ];
}

/** What is listed by main, the greatest first, with how far its rooms stand off on average. */
function byMain(zones: readonly ZoneFacts[], entries: readonly EnergyEntry[]): EnergyRanking['mains'] {
  return [...Map.groupBy(zones, ({ main }) => main)]
    .map(([main, own]) => {
      const errors = own.flatMap(({ points }) => dayPoint(points)?.nowDegF ?? []);
      return {
        main,
        zones: own.length,
        meanErrorDegF: errors.length === 0 ? null : errors.reduce((sum, one) => sum + one, 0) / errors.length,
        inOrder: joined(entries.filter((entry) => entry.main === main).map(({ inOrder }) => inOrder)),
      };
    })
    .toSorted((a, b) => {
      return byWeight(a.inOrder, b.inOrder) || (a.main ?? '').localeCompare(b.main ?? '');
    });
}

/** The whole ranking, from facts that were read. */
async function rankingOf(
  db: BookDb,
  facts: EnergyFacts,
  {
    on,
    from,
    to,
    deviceIds,
  }: { on: PlainDate; from: PlainDate; to: PlainDate; deviceIds: ReadonlySet<number> | null },
): Promise<EnergyRanking> {
  const isIn = (id: number): boolean => deviceIds === null || deviceIds.has(id);
  const zones = facts.zones.filter((zone) => isIn(zone.deviceId));
  const minutes = await switchingMinutes(db);
  const faults = switchFaults(facts.network, {
    followUps: await openSwitchFaults(db),
    minutes,
    today: on,
    zoneIds: new Set(facts.zones.filter(({ zone }) => zone.nightDegF !== null).map((one) => one.deviceId)),
  });
  const faultOf = new Map<number, SwitchFault>();
  for (const fault of faults) for (const id of fault.zoneIds) if (!faultOf.has(id)) faultOf.set(id, fault);
  const drafts: Draft[] = [];
  const parts = new Map<SwitchFault, { weighed: Weighed[]; zones: ZoneFacts[] }>();
  const counts = { weighed: 0, near: 0, unknown: 0, noZone: facts.noZone };
  for (const zone of zones) {
    const fault = faultOf.get(zone.deviceId) ?? null;
    const weighed = weighZone(zone, facts, { isSwitching: fault === null, from, to });
    counts.weighed += zone.points.size;
    for (const point of zone.points.values()) {
      if (point.nowDegF === null) counts.unknown += 1;
      else if (Math.abs(point.nowDegF) <= point.toleranceDegF / 2) counts.near += 1;
    }
    for (const part of weighed) {
      if (part.kind !== 'switchover') drafts.push(setpointEntry(zone, part));
      else if (fault) {
        const held = parts.get(fault) ?? { weighed: [], zones: [] };
        parts.set(fault, held);
        held.weighed.push(part);
        held.zones.push(zone);
      }
    }
  }
  for (const [fault, { weighed, zones }] of parts) drafts.push(switchEntry(fault, weighed, zones));
  const power = await stationPower(db);
  drafts.push(...overlapEntries(facts, await fullLoads(db)));
  drafts.push(...airEntries(facts, { leaks: await allLeaks(db), power, on }));
  const entries = ranked(
    drafts
      .filter((draft) => draft.kind === 'switchover' || isIn(draft.deviceId))
      .map((draft) => withRepair(draft, facts.settings)),
  );
  return {
    on,
    period: { from, to },
    currency: facts.settings.currency,
    weather: facts.weather && { name: facts.weather.name, source: facts.weather.source },
    entries,
    mains: byMain(zones, entries),
    total: joined(entries.map(({ inOrder }) => inOrder)),
    counts,
    lacking: lackingOf({ ...facts, zones }),
    cautions: [...energyCautions],
  };
}

/** The ranking as of a day: what was read by then; the period ends with it unless another is named. */
export async function energyRankingOf(
  db: BookDb,
  {
    on,
    from,
    to,
    deviceIds = null,
  }: {
    on: PlainDate;
    from: PlainDate | null;
    to: PlainDate | null;
    /** Of a part of the site: what is not among them is left out. */
    deviceIds?: ReadonlySet<number> | null;
  },
  hooks: JobHooks,
): Promise<EnergyRanking> {
  const period = periodOf({ from, to }, on);
  const facts = await energyFacts(db, { today: on, period }, hooks);
  hooks.progress(1, 1, 'weighing');
  return rankingOf(db, facts, { on, ...period, deviceIds });
}

export const rankEnergy: JobHandler<'energy.rank'> = async ({ book, clock }, { on, from, to }, hooks) =>
  energyRankingOf(book.reader, { on: on ?? clock.today(), from, to }, hooks);
