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
import { createRandom } from '../random.ts';
import { chainsOf, priceChain } from './chains.ts';
import type { Alone, Chain } from './chains.ts';
import { CheapestSlots, UNIT } from './cheapestSlot.ts';
import { leastVisit } from './counted.ts';
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';

/** Sizes of steps, first and last, in UNITs. */
const FIRST_STEP = 0.6;
const LAST_STEP = 1 / 4000;
/** Where there are so many tasks, samples of about so many bring the prices near. Sizes and numbers of steps were found by trying. */
const MANY = 5_000;
const SAMPLES = [
  { tasks: 700, steps: 300, first: 0.3, last: 0.03 },
  { tasks: 3_000, steps: 60, first: 0.03, last: 0.006 },
];
const SAMPLE_SEED = 1;
/** With a sample, prices of runs of periods move together too: up to so many periods, by this part of a step. */
const LONGEST_RUN = 16;
const RUN_STEP = 0.5;
/** Points a minute, in UNITs, where no session holds anything. */
const NO_SESSION = 2 ** 29;
/** How long directions and their sizes are remembered. */
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
  const session = new Int32Array(c.mains * c.slots).fill(NO_SESSION);
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

/** What a minute costs in every slot by its own price and its period's. */
function minutePrices(c: Compiled, slot: ArrayLike<number>, period: ArrayLike<number>): Float64Array {
  return Float64Array.from(slot, (own, at) => own + (c.period[at] >= 0 ? (period[c.period[at]] ?? 0) : 0));
}

/** What prices collect, in UNITs, for the minutes that there are anyway. */
function collected(
  c: Compiled,
  terms: Terms,
  slotPrice: ArrayLike<number>,
  periodPrice: ArrayLike<number>,
): number {
  let sum = 0;
  for (const [slot, people] of terms.rates.entries())
    for (const { rate, regular, overtime, overtimePrice } of people)
      sum +=
        Math.max(0, slotPrice[slot] - rate) * regular +
        Math.max(0, slotPrice[slot] - overtimePrice) * overtime;
  for (const [period, share] of c.target.entries()) sum += periodPrice[period] * Math.max(0, share);
  return sum;
}

/** Every task, alone or in its chain, where it is cheapest at given prices: the sum in UNITs. */
function takeAll(c: Compiled, heads: Heads, terms: Terms, price: Float64Array): number {
  const cheapest = new CheapestSlots(c, heads, terms.session, sampleOf(c.tasks, 1));
  cheapest.fill(price);
  const alone: Alone = {
    price: new Float64Array(c.tasks),
    slot: new Int32Array(c.tasks),
    at: (task, place) => cheapest.priceIn(task, place),
    leftOut: (task) => c.leaveOut[task] * UNIT,
    sums: new Float64Array(c.slots),
  };
  let sum = 0;
  for (let task = 0; task < c.tasks; task += 1) {
    alone.price[task] = cheapest.of(task);
    alone.slot[task] = cheapest.slot;
    if (terms.isChained[task] === 0) sum += alone.price[task];
  }
  for (const chain of terms.chains) sum += priceChain(c, heads, chain, alone);
  return sum;
}

/** The bound of given prices, in whole points: exact integer arithmetic, rounded up since costs are whole. */
function boundOfPrices(c: Compiled, heads: Heads, terms: Terms, { slot, period }: MinutePrices): number {
  const sum = takeAll(c, heads, terms, minutePrices(c, slot, period)) - collected(c, terms, slot, period);
  return Math.ceil(sum / UNIT);
}

export type PriceBound = { bound: number; prices: MinutePrices; iterations: number };

/** Prices on their way up: moved step by step to where more minutes are asked for than there are. */
class Ascent {
  private readonly c: Compiled;
  private readonly heads: Heads;
  private readonly terms: Terms;
  private readonly slotPrice: Float64Array;
  private readonly periodPrice: Float64Array;
  private readonly pull: Float64Array;
  private readonly mean: Float64Array;
  private readonly square: Float64Array;
  private best = -Infinity;
  private bestPrices: [Float64Array, Float64Array];

  constructor(c: Compiled, heads: Heads, terms: Terms) {
    this.c = c;
    this.terms = terms;
    this.heads = heads;
    this.slotPrice = Float64Array.from(terms.rates, (people) =>
      people.length === 0 ? 0 : people.reduce((low, one) => Math.min(low, one.rate), Infinity),
    );
    this.periodPrice = new Float64Array(c.target.length);
    const count = c.slots + c.target.length;
    this.pull = new Float64Array(count);
    // Beside those of slots and periods: those of runs of periods, fewer than three for each.
    this.mean = new Float64Array(count + 3 * c.target.length);
    this.square = new Float64Array(count + 3 * c.target.length);
    this.bestPrices = [this.slotPrice.slice(), this.periodPrice.slice()];
  }

  /** The best prices seen, in whole UNITs. */
  get prices(): MinutePrices {
    const [slot, period] = this.bestPrices;
    return { slot: Array.from(slot, Math.round), period: Array.from(period, Math.round) };
  }

  /** Goes so many steps, from one size to another, looking at every so-manieth task as if it stood for all between. */
  climb({ steps, sample, first, last }: Stage): void {
    const { c, heads, terms } = this;
    const tasks = sampleOf(c.tasks, sample);
    const cheapest = new CheapestSlots(c, heads, terms.session, tasks);
    for (let round = 0; round < steps; round += 1) {
      const value = this.takeTasks(tasks, sample, cheapest) - this.takeSupply();
      if (sample === 1 && value > this.best) {
        this.best = value;
        this.bestPrices = [this.slotPrice.slice(), this.periodPrice.slice()];
      }
      const left = (steps - round) / steps;
      const size = UNIT * (last + (first - last) * left * left);
      this.move(size);
      if (sample > 1) this.moveRuns(size * RUN_STEP);
    }
  }

  /** Every task to its cheapest slot: the sum of their prices, and the minutes they ask for into `pull`. */
  private takeTasks(tasks: Int32Array, sample: number, cheapest: CheapestSlots): number {
    const { c, pull } = this;
    cheapest.fill(minutePrices(c, this.slotPrice, this.periodPrice));
    pull.fill(0);
    let sum = 0;
    for (const task of tasks) {
      sum += sample * cheapest.of(task);
      const { slot } = cheapest;
      if (slot < 0) continue;
      pull[slot] += sample * c.minutes[task];
      if (c.period[slot] >= 0) pull[c.slots + c.period[slot]] += sample * c.minutes[task];
    }
    return sum;
  }

  /** Takes off `pull` the minutes that there are anyway at these prices; answers what is collected for them. */
  private takeSupply(): number {
    const { c, terms, pull, slotPrice, periodPrice } = this;
    for (const [slot, people] of terms.rates.entries())
      for (const { rate, regular, overtime, overtimePrice } of people) {
        if (slotPrice[slot] >= rate) pull[slot] -= regular;
        if (slotPrice[slot] > overtimePrice) pull[slot] -= overtime;
      }
    for (const [period, share] of c.target.entries()) pull[c.slots + period] -= Math.max(0, share);
    return collected(c, terms, slotPrice, periodPrice);
  }

  /** How far a price goes along what was asked of it lately: all go by about the same size. */
  private along(at: number, pull: number, size: number): number {
    const { mean, square } = this;
    mean[at] = KEEP_MEAN * mean[at] + (1 - KEEP_MEAN) * pull;
    square[at] = KEEP_SQUARE * square[at] + (1 - KEEP_SQUARE) * pull * pull;
    return square[at] === 0 ? 0 : (size * mean[at]) / Math.sqrt(square[at]);
  }

  private movePeriod(period: number, by: number): void {
    const { c, periodPrice } = this;
    if (c.target[period] >= 0)
      periodPrice[period] = Math.min(c.prices.uneven * UNIT, Math.max(0, periodPrice[period] + by));
  }

  /** Moves every price. */
  private move(size: number): void {
    const { c, pull, slotPrice } = this;
    for (let slot = 0; slot < c.slots; slot += 1)
      slotPrice[slot] = Math.max(0, slotPrice[slot] + this.along(slot, pull[slot], size));
    for (let period = 0; period < c.target.length; period += 1)
      this.movePeriod(period, this.along(c.slots + period, pull[c.slots + period], size));
  }

  /** Moves the prices of runs of periods together: what a whole season lacks hardly shows in one week. */
  private moveRuns(size: number): void {
    const { c, pull } = this;
    const periods = c.target.length;
    let run = pull.length;
    for (let length = 2; length <= Math.min(LONGEST_RUN, periods); length *= 2)
      for (let from = 0; from + length / 2 <= periods; from += length / 2, run += 1) {
        const to = Math.min(periods, from + length);
        const asked = pull.subarray(c.slots + from, c.slots + to).reduce((sum, one) => sum + one, 0);
        const by = this.along(run, asked, size);
        for (let period = from; period < to; period += 1) this.movePeriod(period, by);
      }
  }
}

/** One task of every so many, drawn at random: what comes in turn, as the two setpoints of a room do, must not fall in step. */
function sampleOf(tasks: number, every: number): Int32Array {
  const random = createRandom(SAMPLE_SEED);
  return Int32Array.from({ length: Math.floor(tasks / every) }, (_, at) =>
    every === 1 ? at : at * every + random.integer(0, every - 1),
  );
}

type Stage = { steps: number; sample: number; first: number; last: number };

/**
 * The best bound found in so many looks at all tasks; where there are many, a sample of them has brought the prices
 * near before. Chains are looked at in the end only: they move the prices little and take long.
 */
export function priceBound(c: Compiled, heads: Heads, iterations: number): PriceBound {
  const terms = termsOf(c, heads);
  const ascent = new Ascent(c, heads, terms);
  let first = FIRST_STEP;
  for (const { tasks, steps, ...sizes } of c.tasks < MANY ? [] : SAMPLES) {
    ascent.climb({ steps, sample: Math.floor(c.tasks / tasks), ...sizes });
    first = sizes.last;
  }
  ascent.climb({ steps: iterations, sample: 1, first, last: LAST_STEP });
  const { prices } = ascent;
  return { bound: boundOfPrices(c, heads, terms, prices), prices, iterations };
}
