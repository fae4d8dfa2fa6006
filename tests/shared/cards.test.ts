import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cards, descriptionOf } from '../../shared/cards/index.ts';
import { fieldsOf, judgeCard } from '../../shared/cards/judge.ts';
import { paperFields } from '../../shared/cards/paper.ts';
import { readingsByPoint, valuesOfReadings } from '../../service/bench/cardRecord.ts';
import {
  factsOf,
  goodEntry,
  goodValues,
  hygrometer,
  instrument,
  instruments,
  judgedWith,
  thermometer,
} from '../support/cards.ts';

type Name = keyof typeof factsOf;
const names = Object.keys(factsOf) as Name[];
const fieldsWrong = (...args: Parameters<typeof judgedWith>): string[] =>
  judgedWith(...args).problems.map(({ field }) => field);

describe('every card', () => {
  it.each(names)('%s closes as held with good values', (name) => {
    const result = judgedWith(name);
    expect(result.problems).toEqual([]);
    expect(result.points.map(({ found }) => found?.verdict)).toEqual(result.points.map(() => 'inside'));
  });

  it.each(names)(
    '%s: phase and words of each reading are its own, so that a record can be read back',
    (name) => {
      const facts = factsOf[name];
      const fields = descriptionOf(facts).steps.flatMap((step) => fieldsOf(step, facts));
      const words = fields.map(({ phase, quantity }) => `${phase} ${quantity}`);
      expect(new Set(words).size).toBe(words.length);
      expect(new Set(fields.map(({ key }) => key)).size).toBe(fields.length);
      for (const { point } of fields)
        if (point !== undefined) expect(facts.points.map(({ key }) => key)).toContain(point);
    },
  );

  it.each(names)('%s can be closed as held from what has a box on paper', (name) => {
    const facts = factsOf[name];
    const boxes = new Set(paperFields(descriptionOf(facts), facts).map(({ key }) => key));
    const without = Object.keys(goodValues[name]).filter((key) => !boxes.has(key));
    const result = judgedWith(name, Object.fromEntries(without.map((key) => [key, undefined])));
    expect(result.problems).toEqual([]);
  });

  it.each(names)('%s: under a rule with a guard band an error of unknown doubt is in doubt', (name) => {
    const facts = factsOf[name];
    const result = judgeCard(descriptionOf(facts), facts, goodEntry(name), {
      instruments: {
        pressure: instrument({ accuracyMilli: null }),
        temperature: thermometer({ accuracyMilli: null }),
        humidity: hygrometer({ accuracyMilli: null }),
      },
      rule: 'guard band U',
      doneOn: '2026-11-25',
    });
    for (const { found } of result.points)
      if (found && found.errorMilli !== null && found.doubtMilli === null)
        expect([found.verdict, found.conformancePpm]).toEqual(['inside, in doubt', null]);
  });

  it('a pressure beyond the scale of its gauge is refused, in the unit of the device', () => {
    const facts = factsOf.setpoint;
    const entry = goodEntry('setpoint', { values: { ...goodValues.setpoint, swingOther: 15_500 } });
    const withRange = (rangeHighMilli: number, unit: 'psi' | 'kPa') =>
      judgeCard(descriptionOf(facts), facts, entry, {
        instruments: { ...instruments, pressure: instrument({ rangeHighMilli, unit }) },
        rule: 'simple acceptance',
        doneOn: '2026-11-25',
      }).problems.filter(({ reason }) => reason.includes('reads to'));
    expect(withRange(15_000, 'psi')).toEqual([{ field: 'swingOther', reason: 'PG-1 reads to 15 psi only' }]);
    expect(withRange(106_000, 'kPa').map(({ field }) => field)).toEqual(['swingOther']);
    expect(withRange(107_000, 'kPa')).toEqual([]);
  });

  it('a clock without a reserve, as the register says, closes as held', () => {
    const facts = { ...factsOf.time_switch, reserveHours: null } as typeof factsOf.time_switch;
    expect(judgedWith('time_switch', { reserve: 'there is none' }, { facts }).problems).toEqual([]);
  });

  it.each(names)('%s comes back out of its readings as it went in', (name) => {
    const facts = factsOf[name];
    const readings = [...readingsByPoint(facts, goodValues[name], null).values()].flat();
    expect(valuesOfReadings(facts, readings)).toEqual(goodValues[name]);
  });

  it.each(names)('%s does not close while something is not ticked restored', (name) => {
    const { restored } = descriptionOf(factsOf[name]);
    for (const { key } of restored) {
      const entry = goodEntry(name);
      const result = judgeCard(
        descriptionOf(factsOf[name]),
        factsOf[name],
        { ...entry, ticks: { ...entry.ticks, [key]: false } },
        { instruments, rule: 'simple acceptance', doneOn: '2026-11-25' },
      );
      expect(result.problems.map(({ field }) => field)).toEqual([key]);
    }
  });

  it.each(names)('%s asks for everything that it needs before it closes as held', (name) => {
    const result = judgedWith(
      name,
      Object.fromEntries(Object.keys(goodValues[name]).map((key) => [key, undefined])),
    );
    expect(result.problems.length).toBeGreaterThan(0);
  });

  it.each(names)('%s never fails on odd figures: it answers with problems', (name) => {
    const facts = factsOf[name];
    const fields = descriptionOf(facts).steps.flatMap((step) => fieldsOf(step, facts));
    const value = fc.oneof(
      fc.integer({ min: -1_000_000_000, max: 1_000_000_000 }),
      fc.integer({ min: -2, max: 30 }).map((n) => n * 1000),
      fc.constantFrom('yes', 'no', 'low', 'high', '', '2026-11-25', '2026-13-45', 'open'),
    );
    const odd = fc.record(
      Object.fromEntries(fields.map(({ key }) => [key, fc.option(value, { nil: undefined })])),
    );
    fc.assert(
      fc.property(
        odd,
        fc.boolean(),
        fc.constantFrom('held', 'adjusted', 'device failed', 'supply not right', 'not tested'),
        (values, adjusted, outcome) => {
          const result = judgedWith(name, values, { adjusted, outcome: outcome as 'held' });
          for (const { found, left } of result.points)
            for (const one of [found, left])
              if (one?.errorMilli != null) expect(Number.isSafeInteger(one.errorMilli)).toBe(true);
        },
      ),
      { numRuns: 60 },
    );
  });

  it('has a description for every class', () =>
    expect(Object.keys(cards).sort()).toEqual([
      'actuator',
      'air_station',
      'main',
      'receiver',
      'regulator',
      'setpoint',
      'switchover_relay',
      'time_switch',
      'transmitter',
    ]));
});

describe('the card of a setpoint', () => {
  it('gives the error by the undisturbed reading', () =>
    expect(judgedWith('setpoint').points[0].found).toMatchObject({
      errorMilli: -400,
      relation: '=',
      method: 'M3',
      verdict: 'inside',
    }));

  it('stays shut in the wrong air state, and lets only the supply be blamed', () => {
    const wrong = judgedWith('setpoint', { main: 18_000 });
    expect([wrong.isShut, wrong.airState, wrong.points[0].found]).toEqual([true, 'high', null]);
    expect(wrong.problems.map(({ field }) => field)).toContain('outcome');
    expect(fieldsWrong('setpoint', { main: 18_000 }, { outcome: 'supply not right' })).toEqual([]);
  });

  it('stays shut where the main’s pressures do not mean the role', () => {
    const facts = { ...factsOf.setpoint, airState: null, role: 'occupied' } as typeof factsOf.setpoint;
    expect(judgedWith('setpoint', {}, { facts }).problems.map(({ reason }) => reason)).toEqual([
      expect.stringContaining('do not mean this setpoint’s role'),
    ]);
  });

  it.each([
    ['the dial is not put back', { dialBack: 75_000 }, 'dialBack'],
    ['the dial was not noted', { dialBack: undefined }, 'dialBack'],
    ['the main is below nothing', { main: -1_000 }, 'main'],
    ['the main is too far off its setting', { main: 11_900, swingOther: 11_900 }, 'main'],
    ['the room is a furnace', { foundRoom: 720_000, foundDialAtCalibration: 720_000 }, 'foundRoom'],
    ['a branch stands above its main', { swingOther: 14_200 }, 'swingOther'],
    ['a branch is below nothing', { swingOne: -100, swingOther: 13_000 }, 'swingOne'],
    ['the swing was not made', { swingOne: undefined, swingOther: undefined }, 'fullTravel'],
    ['the swing is half noted', { swingOne: undefined }, 'fullTravel'],
    ['the swing does not pass the spring range', { swingOne: 4_000, swingOther: 13_000 }, 'fullTravel'],
    ['it was found outside and not touched', { foundBranch: 3_000 }, 'outcome'],
    ['only a bound was found', { foundBranch: 0 }, 'outcome'],
    ['it does not change over on this main', { tripRising: 18_500, tripFalling: 14_000 }, 'changeover'],
  ])('does not close when %s', (_words, values, field) =>
    expect(fieldsWrong('setpoint', values)).toContain(field),
  );

  it('does not close when a precondition is not ticked and nothing says why', () => {
    const ticks = { ...goodEntry('setpoint').ticks, people: false };
    expect(fieldsWrong('setpoint', {}, { ticks })).toEqual(['tickNote']);
    expect(fieldsWrong('setpoint', {}, { ticks, tickNote: 'empty building' })).toEqual([]);
  });

  it('the freeze lockout: a forced main asks for the outdoor temperature, and below the lockout nothing is done', () => {
    const ticks = { ...goodEntry('setpoint').ticks, forced: true };
    expect(fieldsWrong('setpoint', {}, { ticks })).toEqual(['outdoor']);
    expect(fieldsWrong('setpoint', { outdoor: 39_900 }, { ticks })).toEqual(['outdoor']);
    expect(fieldsWrong('setpoint', { outdoor: 40_000 }, { ticks })).toEqual([]);
    expect(fieldsWrong('setpoint', { outdoor: 20_000 }, { ticks, outcome: 'unsafe' })).toEqual([]);
  });

  const adjusted = {
    foundBranch: 3_000,
    leftDial: 72_000,
    leftRoom: 72_000,
    leftBranch: 8_200,
    dialUp: 73_000,
    branchUp: 5_700,
    dialDown: 71_000,
    branchDown: 10_700,
  };
  it('closes as adjusted with an as-left inside and the throttling range checked', () => {
    const result = judgedWith('setpoint', adjusted, { adjusted: true, outcome: 'adjusted' });
    expect(result.problems).toEqual([]);
    expect([result.points[0].found?.errorMilli, result.points[0].left?.errorMilli]).toEqual([2000, -80]);
    expect(
      fieldsWrong(
        'setpoint',
        { ...adjusted, branchUp: 10_700, branchDown: 5_700 },
        { adjusted: true, outcome: 'adjusted' },
      ),
    ).toEqual(['throttling']);
    expect(fieldsWrong('setpoint', adjusted)).toContain('left');
    expect(
      fieldsWrong('setpoint', { ...adjusted, leftBranch: 10_000 }, { adjusted: true, outcome: 'adjusted' }),
    ).toEqual(['outcome']);
  });

  it('reading the first again shows it disturbed', () => {
    const facts = { ...factsOf.setpoint, isFirstOfTwo: true } as typeof factsOf.setpoint;
    const again = { againRoom: 72_000, againDial: 72_000 };
    expect(fieldsWrong('setpoint', { ...again, againBranch: 12_000 }, { facts })).toEqual(['readAgain']);
    expect(fieldsWrong('setpoint', { ...again, againBranch: 8_100 }, { facts })).toEqual([]);
  });

  it('advises the dial method near an end', () =>
    expect(
      judgedWith('setpoint', { foundDial: 70_000, foundBranch: 12_600 }).remarks.map(({ text }) => text),
    ).toContainEqual(expect.stringContaining('turn the dial until it reads 8 psi')));
});

describe('the doubt of a reading', () => {
  it('is the budget of the published example: thermometer 0.5, gauge 0.075 psi, dial, repeat and gain', () => {
    // drift-and-intervals 6.4: U = 0.843172 degF for a branch 1.2 psi off.
    const facts = factsOf.setpoint;
    const result = judgeCard(
      descriptionOf(facts),
      facts,
      goodEntry('setpoint', { values: { ...goodValues.setpoint, foundBranch: 9_200 } }),
      {
        instruments: { pressure: instrument(), temperature: thermometer({ accuracyMilli: 500 }) },
        rule: 'simple acceptance',
        doneOn: '2026-11-25',
      },
    );
    expect(result.points[0].found).toMatchObject({ errorMilli: -480, doubtMilli: 843 });
  });

  it.each([
    ['simple acceptance', 1_200, 'outside'],
    ['simple acceptance', 900, 'inside'],
    ['guard band U', 900, 'inside, in doubt'],
    ['guard band U', 1_200, 'outside, in doubt'],
    ['guard band U', 2_000, 'outside'],
    ['guard band 0.83 U', 200, 'inside'],
    ['guard band by ratio', 990, 'inside, in doubt'],
  ] as const)('by %s an error of %i thousandths is %s', (rule, error, verdict) => {
    // Dial = room: e = -(P - 8)/2.5.
    const { found } = judgedWith('setpoint', { foundBranch: 8_000 - 2.5 * error }, { rule }).points[0];
    expect([found?.errorMilli, found?.verdict]).toEqual([error, verdict]);
  });

  it('an instrument less than twice as good stops the card, less than four times is said, a lapsed one is said', () => {
    const with_ = (pressure: ReturnType<typeof instrument>) => {
      const facts = factsOf.regulator;
      return judgeCard(descriptionOf(facts), facts, goodEntry('regulator'), {
        instruments: { pressure },
        rule: 'simple acceptance',
        doneOn: '2026-11-25',
      });
    };
    expect(with_(instrument({ accuracyMilli: 260 })).problems.map(({ field }) => field)).toEqual([
      'instruments.pressure',
    ]);
    expect(with_(instrument({ accuracyMilli: 150 })).remarks[0]).toMatchObject({
      tone: 'look',
      text: expect.stringContaining('3.3 times'),
    });
    expect(
      with_(instrument({ accuracyForm: 'grade', accuracyMilli: null, accuracyGrade: 'B' })).problems[0]
        .reason,
    ).toContain('only 0.5 times');
    expect(with_(instrument({ certificateDueOn: '2026-11-24' })).remarks.slice(0, 1)).toMatchObject([
      { text: expect.stringContaining('lapsed on 2026-11-24') },
    ]);
    expect(with_(instrument({ accuracyMilli: null })).points[0].found).toMatchObject({
      verdict: 'inside',
      doubtMilli: null,
      conformancePpm: null,
    });
  });
});

describe('the other cards', () => {
  it.each<[Name, string, Record<string, number | string | undefined>, string]>([
    ['regulator', 'it creeps', { lowShutLater: 14_600 }, 'creep'],
    ['regulator', 'it droops', { highShut: 19_100, highShutLater: 19_200 }, 'found'],
    ['regulator', 'the relief lifts below the high setting', { reliefLifts: 17_500 }, 'reliefLifts'],
    ['regulator', 'the relief reseats above its lift', { reliefReseats: 26_000 }, 'reliefReseats'],
    [
      'regulator',
      'the low pressure is off',
      { low: 13_700, lowShut: 14_000, lowShutLater: 14_100 },
      'outcome',
    ],
    [
      'regulator',
      'the high pressure does not change the farthest controller over',
      { high: 16_900, highShut: 17_200, highShutLater: 17_300 },
      'high',
    ],
    ['regulator', 'the switch time is missing', { secondsUp: undefined }, 'secondsUp'],
    [
      'single regulator',
      'it stands too high',
      { low: 20_600, lowShut: 20_800, lowShutLater: 20_900 },
      'outcome',
    ],
    ['switchover_relay', 'the common port does not follow', { commonOff: 16_900 }, 'outcome'],
    ['switchover_relay', 'it leaks', { leak: 'yes' }, 'outcome'],
    ['switchover_relay', 'the coil starves', { volts: 100_000 }, 'outcome'],
    ['switchover_relay', 'power loss goes the wrong way', { powerLossState: 'low' }, 'outcome'],
    ['switchover_relay', 'it is piped otherwise', { noIs: 'exhaust' }, 'outcome'],
    ['time_switch', 'the clock is off', { clock: 6_000 }, 'outcome'],
    ['time_switch', 'the programme is not the approved one', { programme: 'no' }, 'programme'],
    ['time_switch', 'the reserve is gone', { reserve: 'no' }, 'reserve'],
    ['time_switch', 'it has no reserve, and should', { reserve: 'there is none' }, 'reserve'],
    ['air_station', 'its receiver is empty', { receiver: 0 }, 'receiver'],
    ['main', 'the far end is starved', { farHigh: 16_500 }, 'outcome'],
    ['main', 'it changes over too slowly', { minutesDown: 10_500 }, 'minutesDown'],
    ['main', 'the sample is too small', { sampled: 6_000, changed: 6_000 }, 'sampled'],
    ['main', 'one of the sample did not change', { changed: 6_000 }, 'changed'],
    ['main', 'more changed than were looked at', { changed: 8_000 }, 'changed'],
    ['main', 'the farthest was left out', { farthest: 'no' }, 'farthest'],
    ['main', 'the station is off', { stationLow: 13_600 }, 'stationLow'],
    ['single main', 'the far end is starved', { farLow: 18_900 }, 'outcome'],
    ['transmitter', 'its span is off', { output2up: 13_000 }, 'outcome'],
    [
      'transmitter',
      'both points are at one temperature',
      { reference2up: 60_000, output2up: 5_400 },
      'reference2up',
    ],
    ['transmitter', 'its points are too near', { reference2up: 65_000, output2up: 6_600 }, 'reference2up'],
    ['transmitter', 'a point between its ends is off', { reference3up: 75_000, output3up: 10_000 }, 'found'],
    ['transmitter', 'a point is half noted', { output2up: undefined }, 'output2up'],
    ['receiver', 'its setpoint is off', { test: 9_200 }, 'outcome'],
    ['receiver', 'its reset is off', { resetSetpoint1: 144_000 }, 'resetSetpoint1'],
    ['receiver', 'its output is above its main', { main: 10_000, outputUp: 10_600 }, 'outputUp'],
    ['receiver', 'the output does not follow', { outputUp: 8_000, outputDown: 8_000 }, 'gain'],
    ['receiver', 'the output moves the wrong way', { outputUp: 3_900, outputDown: 12_100 }, 'gain'],
    ['receiver', 'its gain is far too low', { outputUp: 9_500, outputDown: 5_500 }, 'gain'],
    ['receiver', 'its gain is far too high', { testUp: 9_200, testDown: 8_800 }, 'gain'],
    ['regulator', 'its relief lifts too high', { reliefLifts: 29_900 }, 'reliefLifts'],
    ['regulator', 'its relief reseats below its setting', { reliefReseats: 1_000 }, 'reliefReseats'],
    ['regulator', 'its high rise is half noted', { highShut: undefined, highShutLater: 24_000 }, 'highShut'],
    ['regulator', 'it switches in no time', { secondsUp: 0 }, 'secondsUp'],
    ['regulator', 'it takes two hours to switch', { secondsDown: 7_200_000 }, 'secondsDown'],
    ['regulator', 'it freezes outside', { outdoor: 30_000 }, 'outdoor'],
    ['switchover_relay', 'it freezes outside', { outdoor: 30_000 }, 'outdoor'],
    ['switchover_relay', 'it hums', { hum: 'yes' }, 'outcome'],
    ['main', 'more were looked at than there are', { sampled: 70_000, changed: 70_000 }, 'sampled'],
    [
      'receiver',
      'its reset is read at one temperature nearly',
      { resetAt2: 30_100, resetSetpoint2: 140_000 },
      'resetAt2',
    ],
    [
      'receiver',
      'its reset is read off the end of the schedule',
      { resetAt1: -30_000, resetSetpoint1: 180_000, resetAt2: -20_000, resetSetpoint2: 180_000 },
      'resetAt2',
    ],
    ['receiver', 'its gain is read over nothing', { testUp: 9_005, testDown: 8_995 }, 'gain'],
    ['receiver', 'its test pressure is above its main', { main: 8_000 }, 'test'],
    ['air_station', 'its receiver stands below its cut-in', { receiver: 10_000 }, 'receiver'],
    ['regulator', 'the filter ahead is plugged', { filterDrop: 10_100 }, 'filterDrop'],
    ['main', 'without power it goes the wrong way', { powerLossState: 'low' }, 'powerLossState'],
    ['actuator', 'it is the other way round', { normal: 'closed' }, 'normal'],
    ['actuator', 'it hangs back', { endDown: 7_200 }, 'found'],
    ['actuator', 'it does not reach its end', { reached: 90_000 }, 'reached'],
    ['actuator', 'it moves back above where it ended', { endDown: 11_000 }, 'endDown'],
    ['actuator', 'the pressure held rises', { holdLater: 14_000 }, 'holdLater'],
    ['actuator', 'it is held below its end', { holdAtOnce: 5_000, holdLater: 5_000 }, 'holdAtOnce'],
    ['actuator', 'it does not shut tight', { seat: 'no' }, 'seat'],
    ['single regulator', 'it falls without flow', { lowShutLater: 18_000 }, 'lowShutLater'],
    ['regulator', 'its inlet is below its outlet', { inlet: 15_000 }, 'inlet'],
    ['transmitter', 'it sends more than its main', { main: 12_000 }, 'output2up'],
    ['transmitter', 'its way down is elsewhere', { reference1down: 61_000, output1down: 12_000 }, 'found'],
    [
      'switchover_relay',
      'it stands the other way round',
      { sourceOff: 0, commonOff: 100, sourceOn: 18_000, commonOn: 17_800 },
      'outcome',
    ],
    ['actuator', 'it leaks', { holdLater: 9_000 }, 'leak'],
    ['actuator', 'its start moved', { startUp: 3_600 }, 'outcome'],
    ['air_station', 'it runs too long', { on1: 9_000, on2: 9_000, on3: 9_000 }, 'cycles'],
    ['air_station', 'a cycle has no run in it', { on2: 0 }, 'on2'],
    ['air_station', 'its safety valve has no such day', { safetyValve: '2026-02-30' }, 'safetyValve'],
    ['air_station', 'something is noted that no card asks for', { wattage: 5_000 }, 'wattage'],
    ['air_station', 'its air is wet', { dewPoint: 41_000 }, 'outcome'],
    ['air_station', 'the dew point is without its pressure', { dewPressure: undefined }, 'dewPressure'],
    ['air_station', 'the safety valve is overdue', { safetyValve: '2025-05-04' }, 'safetyValve'],
    ['air_station', 'the drain does not work', { handDrain: 'no' }, 'handDrain'],
    ['air_station', 'the filter is plugged', { drop1: 11_000 }, 'drop1'],
    ['humidity', 'it is off', { foundBranch: 10_500 }, 'outcome'],
  ])('%s does not close as held when %s', (name, _words, values, field) =>
    expect(fieldsWrong(name, values)).toContain(field),
  );

  it('under load an actuator’s ends may stand twice as far', () =>
    expect(judgedWith('actuator', { startUp: 3_900, load: 'under load', startDown: 3_000 }).problems).toEqual(
      [],
    ));

  it('a two-pressure regulator set high first is set again', () => {
    const left = { lowLeft: 13_000, highLeft: 18_000, order: 'high first' };
    const change = { adjusted: true, outcome: 'adjusted' as const };
    expect(fieldsWrong('regulator', { ...left, low: 13_700 }, change)).toEqual(['order']);
    expect(fieldsWrong('regulator', { ...left, low: 13_700, order: 'low first' }, change)).toEqual([]);
  });

  it('a fault found on a regulator, a main or a receiver-controller closes as adjusted once it is read right', () => {
    const change = { adjusted: true, outcome: 'adjusted' as const };
    const set = { lowLeft: 13_000, highLeft: 18_000, order: 'low first' };
    const far = { farLowLeft: 13_000, farHighLeft: 18_000 };
    const back = { dialLeft: 140_000, testLeft: 9_000 };
    const gain = { testUpLeft: 9_500, outputUpLeft: 12_100, testDownLeft: 8_500, outputDownLeft: 3_900 };
    const reset = {
      resetAt1Left: 30_000,
      resetSetpoint1Left: 140_500,
      resetAt2Left: 0,
      resetSetpoint2Left: 179_500,
    };
    type Values = Record<string, number | string>;
    const faults: [Name, Values, Values, string, Values, Values][] = [
      [
        'regulator',
        set,
        { highShut: 19_100, highShutLater: 19_200 },
        'found',
        { droopLeftHigh: 900 },
        { droopLeftHigh: 1_100 },
      ],
      ['regulator', set, { lowShutLater: 14_600 }, 'creep', { creepLeft: 800 }, { creepLeft: 1_200 }],
      [
        'regulator',
        set,
        { reliefLifts: 29_900 },
        'reliefLifts',
        { reliefLeft: 25_000 },
        { reliefLeft: 18_000 },
      ],
      [
        'regulator',
        set,
        { filterDrop: 12_000 },
        'filterDrop',
        { filterDropLeft: 1_000 },
        { filterDropLeft: 11_000 },
      ],
      ['main', far, { minutesUp: 14_000 }, 'minutesUp', { minutesUpLeft: 3_000 }, { minutesUpLeft: 11_000 }],
      [
        'main',
        far,
        { stationLow: 13_600 },
        'stationLow',
        { stationLowLeft: 13_000 },
        { stationLowLeft: 13_600 },
      ],
      [
        'main',
        far,
        { powerLossState: 'low' },
        'powerLossState',
        { powerLossLeft: 'high' },
        { powerLossLeft: 'low' },
      ],
      ['main', far, { changed: 6_000 }, 'changed', { changedLeft: 7_000 }, { changedLeft: 6_000 }],
      [
        'receiver',
        back,
        { outputUp: 9_500, outputDown: 5_500 },
        'gain',
        gain,
        { ...gain, outputUpLeft: 8_000, outputDownLeft: 6_000 },
      ],
      [
        'receiver',
        back,
        { resetSetpoint1: 150_000 },
        'resetSetpoint1',
        reset,
        { ...reset, resetSetpoint1Left: 150_000 },
      ],
    ];
    for (const [name, left, found, field, mended, still] of faults) {
      expect(fieldsWrong(name, { ...left, ...found }, change)).toEqual([field]);
      expect(fieldsWrong(name, { ...left, ...found, ...mended }, change)).toEqual([]);
      expect(fieldsWrong(name, { ...left, ...found, ...still }, change)).toHaveLength(1);
    }
    expect(fieldsWrong('main', { ...far, changed: 6_000, changedLeft: 8_000 }, change)).toEqual([
      'changedLeft',
    ]);
    expect(fieldsWrong('receiver', { ...back, testUpLeft: 9_500 }, change)).toEqual(['gainLeft']);
  });

  it('what is read only as left is judged too', () => {
    const change = { adjusted: true, outcome: 'adjusted' as const };
    const set = { lowLeft: 13_000, highLeft: 18_000, order: 'low first' };
    const blank = { highShut: undefined, highShutLater: undefined, filterDrop: undefined };
    expect(fieldsWrong('regulator', { ...set, ...blank }, change)).toEqual([]);
    expect(fieldsWrong('regulator', { ...set, ...blank, creepLeftHigh: 5_000 }, change)).toEqual(['creep']);
    expect(fieldsWrong('regulator', { ...set, ...blank, droopLeftHigh: 6_000 }, change)).toEqual(['found']);
    expect(fieldsWrong('regulator', { ...set, ...blank, filterDropLeft: 15_000 }, change)).toEqual([
      'filterDrop',
    ]);
    const far = { farLowLeft: 13_000, farHighLeft: 18_000, powerLossState: undefined };
    expect(fieldsWrong('main', { ...far, powerLossLeft: 'low' }, change)).toEqual(['powerLossState']);
  });

  it('a repair that has no figure of its own closes once everything was tested again', () => {
    const change = { adjusted: true, outcome: 'adjusted' as const };
    const cases: [Name, Record<string, number | string>, string][] = [
      ['actuator', { startLeft: 3_000, endLeft: 8_000, holdLater: 5_000 }, 'leak'],
      ['actuator', { startLeft: 3_000, endLeft: 8_000, seat: 'no', linkage: 'no' }, 'seat'],
      [
        'transmitter',
        {
          reference3up: 75_000,
          output3up: 11_000,
          referenceLeft1: 60_000,
          outputLeft1: 5_400,
          referenceLeft2: 90_000,
          outputLeft2: 12_600,
        },
        'found',
      ],
    ];
    for (const [name, values, field] of cases) {
      expect(fieldsWrong(name, values, change)).toContain(field);
      expect(fieldsWrong(name, { ...values, testedAgain: 'yes' }, change)).toEqual([]);
      expect(fieldsWrong(name, { ...values, testedAgain: 'no' }, change)).toContain('testedAgain');
    }
    const clock = { clockLeft: 0, allLeft: 'yes', reserve: 'no' };
    expect(fieldsWrong('time_switch', clock, change)).toEqual(['reserve']);
    expect(fieldsWrong('time_switch', { ...clock, reserveLeft: 'yes' }, change)).toEqual([]);
    // What no repair mends stays.
    expect(
      fieldsWrong(
        'actuator',
        { startLeft: 3_000, endLeft: 8_000, normal: 'closed', testedAgain: 'yes' },
        change,
      ),
    ).toEqual(['normal']);
    const station = { dewPointLeft: 35_000, dewPressureLeft: 85_000, mended: 'yes' };
    expect(fieldsWrong('air_station', { ...station, safetyValve: '2020-05-04' }, change)).toEqual([
      'safetyValve',
    ]);
    expect(judgedWith('air_station', { on1: 0 }, { outcome: 'device failed' }).problems).toEqual([]);
  });

  it('what does not follow opens a follow-up, whatever the controller comes to', () => {
    for (const name of ['setpoint', 'receiver'] as const) {
      const result = judgedWith(name, { moves: 'no' });
      expect([result.problems, result.besides?.length]).toEqual([[], 1]);
    }
  });

  it('a main that was forced is restored even where nothing was tested', () => {
    const facts = factsOf.setpoint;
    const { preconditions } = descriptionOf(facts);
    const ticks = { ...Object.fromEntries(preconditions.map(({ key }) => [key, true])), forced: true };
    const fields = judgedWith(
      'setpoint',
      Object.fromEntries(Object.keys(goodValues.setpoint).map((key) => [key, undefined])),
      {
        outcome: 'not tested',
        ticks,
      },
    ).problems.map(({ field }) => field);
    expect(fields).toEqual(['restoredMain', 'restoredOverride', 'restoredValves']);
  });

  it('a repaired relay is judged by what was left', () => {
    const left = { commonOffLeft: 17_900, commonOnLeft: 0, leakLeft: 'no' };
    const change = { adjusted: true, outcome: 'adjusted' as const };
    expect(fieldsWrong('switchover_relay', { ...left, commonOff: 15_000 }, change)).toEqual([]);
    expect(fieldsWrong('switchover_relay', { ...left, powerLossState: 'low' }, change)).toEqual([
      'testedAgain',
      'outcome',
    ]);
    expect(
      fieldsWrong('switchover_relay', { ...left, powerLossState: 'low', testedAgain: 'yes' }, change),
    ).toEqual([]);
    // Both ports follow their sources, and yet it does not switch.
    const both = { sourceOff: 18_000, sourceOn: 18_000, commonOff: 18_000, commonOn: 18_000, leakLeft: 'no' };
    expect(
      fieldsWrong(
        'switchover_relay',
        { ...both, commonOffLeft: 18_000, commonOnLeft: 18_000, testedAgain: 'yes' },
        change,
      ),
    ).toEqual(['outcome']);
  });

  it('a dew point taken at a lower pressure is re-stated at the line’s', () => {
    // 12.2 degF at 18 psi is 35 degF at 80 psi: dry enough for 39, not for a coldest place of 40 degF (limit 22).
    const cold = { ...factsOf.air_station, coldestMilli: 40_000 } as typeof factsOf.air_station;
    const values = { dewPoint: 12_200, dewPressure: 18_000, receiver: 80_000 };
    expect(judgedWith('air_station', values).points[0].found?.errorMilli).toBeCloseTo(-4_000, -2);
    expect(judgedWith('air_station', values, { facts: cold }).points[0].found).toMatchObject({
      verdict: 'outside',
    });
  });

  it('what the symptom table says comes with a failure', () =>
    expect([
      judgedWith('setpoint', { foundBranch: 0, swingOne: 0, swingOther: 0 }, { outcome: 'device failed' })
        .symptoms[0],
      judgedWith('actuator', { holdLater: 5_000 }, { outcome: 'device failed' }).symptoms[0],
      judgedWith('setpoint', { main: 11_000 }, { outcome: 'supply not right' }).symptoms[0],
      judgedWith('air_station', { dewPoint: 60_000 }, { outcome: 'device failed' }).symptoms[0],
    ]).toEqual([
      'branch stuck at nothing',
      'actuator leaks',
      'main low in one state only',
      'dew point high',
    ]));
});
