/**
 * Lower bound by prices on minutes. Every slot gets a price per minute and every period one for evenness; then
 * each task goes, alone, where it is cheapest, and the prices collected for minutes that the plan has anyway are
 * taken off again. For any prices the result is a bound:
 *
 *   - A person's slot with M > 0 minutes of tasks costs at least one building and one floor visit, and overtime
 *     for what M and these visits exceed. The convex floor of that cost is r M up to the regular minutes less
 *     the visits, with r = walk price / (regular - visits), then the overtime price per minute up to the cap. So
 *     cost >= price M - (price - r)+ (regular - visits) - (price - overtime)+ overtime minutes.
 *   - A session of a main in a slot costs S and holds at most C minutes over all persons, less visits and waits,
 *     and no more than the tasks that may stand there have; so each minute of it carries at least S / C.
 *   - Minutes above a period's even share cost `uneven`, so for any l between 0 and that price the period costs
 *     at least l (minutes - share).
 *
 * Tasks are taken one by one, with earliest slots by precedence, or together with what waits for them (chains.ts),
 * or at their price for being left out. Prices are whole numbers of 1/4096 point, everything is rounded against
 * the bound, so a checker needs integers only.
 */
import type { MinutePrices } from '../instance.ts';
import { chainsOf, priceChain } from './chains.ts';
import type { Alone, Chain } from './chains.ts';
import { leastVisit } from './counted.ts';
import { CLOSED, NO_STATE, OPEN, PORTABLE_ONLY, opennessOf } from '../engine/compile.ts';
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';

export const UNIT = 4096;

/** First step in UNITs, and how long directions and their sizes are remembered. */
const FIRST_STEP = 0.6;
const KEEP_MEAN = 0.8;
const KEEP_SQUARE = 0.95;

export type Terms = {
  /** By slot: sum over persons of the minutes a price above each one's rate is taken off for. */
  rates: { rate: number; regular: number; overtime: number; overtimePrice: number }[][];
  /** By main * slots + slot: least points, in UNITs, per minute of a session there. */
  session: Int32Array;
  chains: Chain[];
  isChained: Uint8Array;
};

/** What the bound needs of an instance beside the tasks. */
export function termsOf(c: Compiled, heads: Heads): Terms {
  const { prices } = c;
  const visit = leastVisit(c);
  const rates: Terms['rates'] = Array.from({ length: c.slots }, () => []);
  for (let place = 0; place < c.crewSlots; place += 1) {
    const most = c.capacity[place] - visit;
    if (most <= 0) continue;
    const regular = Math.min(most, Math.max(0, c.regular[place] - visit));
    // Least points per minute over all loads: at the end of the regular minutes, or at the cap.
    const fixed = prices.walk * visit;
    const atCap = (fixed + prices.overtime * (most - regular)) / most;
    const atRegular = regular > 0 ? fixed / regular : atCap;
    const isKnee = atRegular <= prices.overtime && regular > 0;
    rates[Math.floor(place / c.crews)].push({
      rate: Math.floor((isKnee ? atRegular : atCap) * UNIT),
      regular: isKnee ? regular : most,
      overtime: isKnee ? most - regular : 0,
      overtimePrice: prices.overtime * UNIT,
    });
  }
  return { rates, session: sessionRates(c, heads, visit), ...chainsOf(c, heads) };
}

function sessionRates(c: Compiled, heads: Heads, visit: number): Int32Array {
  const minutes = new Float64Array(c.mains * c.slots);
  for (let task = 0; task < c.tasks; task += 1) {
    const main = c.main[task];
    if (main < 0 || heads.forcedOut[task] || c.holds[main] === 1) continue;
    const from = c.frozen[task] >= 0 ? Math.floor(c.frozen[task] / c.crews) : heads.earliest[task];
    const to = c.frozen[task] >= 0 ? from : c.last[task];
    for (let slot = from; slot <= to; slot += 1)
      if (c.natural[main * c.slots + slot] !== c.state[task])
        minutes[main * c.slots + slot] += c.minutes[task];
  }
  const session = new Int32Array(c.mains * c.slots);
  for (let main = 0; main < c.mains; main += 1)
    for (let slot = 0; slot < c.slots; slot += 1) {
      let holds = 0;
      for (let crew = 0; crew < c.crews; crew += 1)
        holds += Math.max(0, c.capacity[slot * c.crews + crew] - visit - 2 * c.switchMinutes[main]);
      const most = Math.min(holds, minutes[main * c.slots + slot]);
      if (most > 0) session[main * c.slots + slot] = Math.floor((c.sessionPrice[slot] * UNIT) / most);
    }
  return session;
}

/** Price of a task in a slot of its window, in UNITs, whichever way is cheaper; Infinity where it may not stand. */
function priceIn(
  c: Compiled,
  session: Int32Array,
  price: Float64Array,
): (task: number, slot: number) => number {
  return (task, slot) => {
    const open = opennessOf(c, task, slot);
    if (open === CLOSED) return Infinity;
    const late = Math.max(0, c.day[slot] - c.due[task]) * c.weight[task] * UNIT;
    const byPortable = c.portable[task] >= 0 ? late + c.portable[task] * price[slot] : Infinity;
    if (open === PORTABLE_ONLY) return byPortable;
    const at = c.main[task] * c.slots + slot;
    const isSession = c.main[task] >= 0 && c.holds[c.main[task]] === 0 && c.natural[at] !== c.state[task];
    return Math.min(byPortable, late + c.minutes[task] * (price[slot] + (isSession ? session[at] : 0)));
  };
}

/** Cheapest slot of a task at given prices per slot (slot and period together): its price in UNITs, and the slot, -1 = left out. */
function cheapest(
  c: Compiled,
  heads: Heads,
  session: Int32Array,
  price: Float64Array,
): { of: (task: number) => number; slot: () => number } {
  let at = -1;
  function of(task: number): number {
    at = -1;
    let best = c.leaveOut[task] * UNIT;
    if (heads.forcedOut[task]) return best;
    const fixed = c.frozen[task];
    const from = fixed >= 0 ? Math.floor(fixed / c.crews) : heads.earliest[task];
    const to = fixed >= 0 ? from : c.last[task];
    if (fixed >= 0) best = Infinity;
    const mask = c.mask[task] < 0 || fixed >= 0 ? null : c.masks[c.mask[task]];
    const minutes = c.minutes[task];
    const portable = c.portable[task];
    const main = c.main[task];
    const state = c.state[task];
    const hasState = main >= 0 && state !== NO_STATE && c.holds[main] === 0;
    const base = main * c.slots;
    const weight = c.weight[task] * UNIT;
    const due = c.due[task];
    for (let slot = from; slot <= to; slot += 1) {
      const late = c.day[slot] - due;
      const lateness = late > 0 ? late * weight : 0;
      if (lateness >= best) break;
      const open = mask === null ? OPEN : mask[slot];
      if (open === 0) continue;
      if (open !== PORTABLE_ONLY) {
        let perMinute = price[slot];
        if (hasState && c.natural[base + slot] !== state) perMinute += session[base + slot];
        const cost = lateness + minutes * perMinute;
        if (cost < best) {
          best = cost;
          at = slot;
        }
      }
      if (portable >= 0) {
        const cost = lateness + portable * price[slot];
        if (cost < best) {
          best = cost;
          at = slot;
        }
      }
    }
    return best;
  }
  return { of, slot: () => at };
}

/** Takes every task where it is cheapest at given prices: the sum in UNITs, and the slots into `slot`, -1 = left out. */
function takeAll(
  c: Compiled,
  heads: Heads,
  terms: Terms,
  { price, slot, own, sums, chained }: Scratch,
): number {
  const pick = cheapest(c, heads, terms.session, price);
  let sum = 0;
  for (let task = 0; task < c.tasks; task += 1) {
    own[task] = pick.of(task);
    slot[task] = pick.slot();
    if (!chained || terms.isChained[task] === 0) sum += own[task];
  }
  if (!chained) return sum;
  const alone: Alone = {
    price: own,
    slot,
    at: priceIn(c, terms.session, price),
    leftOut: (task) => c.leaveOut[task] * UNIT,
    sums,
  };
  for (const chain of terms.chains) sum += priceChain(c, heads, chain, alone);
  return sum;
}

type Scratch = {
  price: Float64Array;
  slot: Int32Array;
  own: Float64Array;
  sums: Float64Array;
  chained: boolean;
};

function scratchOf(c: Compiled, price: Float64Array, chained: boolean): Scratch {
  return {
    price,
    slot: new Int32Array(c.tasks),
    own: new Float64Array(c.tasks),
    sums: new Float64Array(c.slots),
    chained,
  };
}

/** The bound of given prices, in whole points: exact integer arithmetic, rounded up since costs are whole. */
export function boundOfPrices(
  c: Compiled,
  heads: Heads,
  prices: MinutePrices,
  terms = termsOf(c, heads),
): number {
  const price = Float64Array.from(
    prices.slot,
    (own, slot) => own + (c.period[slot] >= 0 ? (prices.period[c.period[slot]] ?? 0) : 0),
  );
  let sum = takeAll(c, heads, terms, scratchOf(c, price, true));
  for (const [slot, people] of terms.rates.entries())
    for (const { rate, regular, overtime, overtimePrice } of people)
      sum -=
        Math.max(0, prices.slot[slot] - rate) * regular +
        Math.max(0, prices.slot[slot] - overtimePrice) * overtime;
  for (const [period, one] of prices.period.entries()) sum -= one * Math.max(0, c.target[period]);
  return Math.ceil(sum / UNIT);
}

export type PriceBound = { bound: number; prices: MinutePrices; iterations: number };

/** Raises the prices step by step; chains are looked at in the end only: they move the prices little and take long. */
export function priceBound(c: Compiled, heads: Heads, iterations: number): PriceBound {
  const terms = termsOf(c, heads);
  const periods = c.target.length;
  const even = c.prices.uneven * UNIT;
  const slotPrice = new Float64Array(c.slots);
  for (const [slot, people] of terms.rates.entries())
    slotPrice[slot] = people.reduce((low, one) => Math.min(low, one.rate), Infinity);
  for (let slot = 0; slot < c.slots; slot += 1) if (slotPrice[slot] === Infinity) slotPrice[slot] = 0;
  const periodPrice = new Float64Array(periods);
  const price = new Float64Array(c.slots);
  const pull = new Float64Array(c.slots + periods);
  const mean = new Float64Array(c.slots + periods);
  const square = new Float64Array(c.slots + periods);
  const scratch = scratchOf(c, price, false);
  let best = -Infinity;
  let bestPrices: [Float64Array, Float64Array] = [slotPrice.slice(), periodPrice.slice()];
  for (let round = 0; round < iterations; round += 1) {
    for (let slot = 0; slot < c.slots; slot += 1)
      price[slot] = slotPrice[slot] + (c.period[slot] >= 0 ? periodPrice[c.period[slot]] : 0);
    pull.fill(0);
    let value = takeAll(c, heads, terms, scratch);
    for (let task = 0; task < c.tasks; task += 1) {
      const slot = scratch.slot[task];
      if (slot < 0) continue;
      pull[slot] += c.minutes[task];
      if (c.period[slot] >= 0) pull[c.slots + c.period[slot]] += c.minutes[task];
    }
    for (const [slot, people] of terms.rates.entries())
      for (const { rate, regular, overtime, overtimePrice } of people) {
        const own = slotPrice[slot];
        if (own > rate) {
          value -= (own - rate) * regular;
        }
        if (own >= rate) pull[slot] -= regular;
        if (own > overtimePrice) {
          value -= (own - overtimePrice) * overtime;
          pull[slot] -= overtime;
        }
      }
    for (let period = 0; period < periods; period += 1) {
      value -= periodPrice[period] * Math.max(0, c.target[period]);
      pull[c.slots + period] -= Math.max(0, c.target[period]);
    }
    if (value > best) {
      best = value;
      bestPrices = [slotPrice.slice(), periodPrice.slice()];
    }
    const left = (iterations - round) / iterations;
    const step = UNIT * FIRST_STEP * left * left + UNIT / 4000;
    for (let at = 0; at < pull.length; at += 1) {
      mean[at] = KEEP_MEAN * mean[at] + (1 - KEEP_MEAN) * pull[at];
      square[at] = KEEP_SQUARE * square[at] + (1 - KEEP_SQUARE) * pull[at] * pull[at];
      const move = square[at] === 0 ? 0 : (step * mean[at]) / Math.sqrt(square[at]);
      if (at < c.slots) slotPrice[at] = Math.max(0, slotPrice[at] + move);
      else {
        const period = at - c.slots;
        if (c.target[period] >= 0)
          periodPrice[period] = Math.min(even, Math.max(0, periodPrice[period] + move));
      }
    }
  }
  const prices: MinutePrices = {
    slot: Array.from(bestPrices[0], Math.round),
    period: Array.from(bestPrices[1], Math.round),
  };
  return { bound: boundOfPrices(c, heads, prices, terms), prices, iterations };
}
