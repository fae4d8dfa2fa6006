/** What stands on the card while it is being filled in: text as typed, so that nothing typed is ever changed. */
import type { BenchCard, BenchEntry, BenchSetpoint } from '../../../shared/contract/bench.ts';
import type { CardEntry, CardSetting } from '../../../shared/trade/benchRules.ts';
import { cardSetting } from '../../../shared/trade/cardSetting.ts';
import { preconditions } from '../../../shared/trade/benchRules.ts';
import type { Outcome } from '../../../shared/trade/words.ts';
import { typed, typingProblem } from '../../ui/typed.ts';

export type EntryText = {
  main: string;
  preconditions: Record<string, boolean>;
  preconditionNote: string;
  foundDial: string;
  foundRoom: string;
  foundBranch: string;
  foundDialAtCalibration: string;
  swingOne: string;
  swingOther: string;
  adjusted: boolean;
  leftDial: string;
  leftRoom: string;
  leftBranch: string;
  leftDialAtCalibration: string;
  dialUp: string;
  branchUp: string;
  dialDown: string;
  branchDown: string;
  againRoom: string;
  againDial: string;
  againBranch: string;
  dialBack: string;
  restoredMain: boolean;
  restoredOverride: boolean;
  restoredValves: boolean;
  outcome: Outcome | '';
  note: string;
};

export type CardText = {
  personId: string;
  doneOn: string;
  pressureGaugeId: string;
  temperatureGaugeId: string;
  startedAt: string;
  /** The newest record of each setpoint by role when the card was begun. */
  seen: Record<string, number | null>;
  /** Roles on this visit, in the order they are done. */
  roles: string[];
  entries: Record<string, EntryText>;
};

export function blankEntry(): EntryText {
  return {
    main: '',
    preconditions: Object.fromEntries(preconditions.map(({ key }) => [key, false])),
    preconditionNote: '',
    foundDial: '',
    foundRoom: '',
    foundBranch: '',
    foundDialAtCalibration: '',
    swingOne: '',
    swingOther: '',
    adjusted: false,
    leftDial: '',
    leftRoom: '',
    leftBranch: '',
    leftDialAtCalibration: '',
    dialUp: '',
    branchUp: '',
    dialDown: '',
    branchDown: '',
    againRoom: '',
    againDial: '',
    againBranch: '',
    dialBack: '',
    restoredMain: false,
    restoredOverride: false,
    restoredValves: false,
    outcome: '',
    note: '',
  };
}

function readings(dial: string, room: string, branch: string, dialAtCalibration: string) {
  if ([dial, room, branch, dialAtCalibration].every((text) => text.trim() === '')) return null;
  return {
    dialMilli: typed(dial),
    temperatureMilli: typed(room),
    branchMilli: typed(branch),
    dialAtCalibrationMilli: typed(dialAtCalibration),
  };
}

const figuresOfStep: Record<string, readonly (keyof EntryText)[]> = {
  mainPressure: ['main'],
  found: ['foundDial', 'foundRoom', 'foundBranch', 'foundDialAtCalibration'],
  fullTravel: ['swingOne', 'swingOther'],
  left: ['leftDial', 'leftRoom', 'leftBranch', 'leftDialAtCalibration'],
  throttling: ['dialUp', 'branchUp', 'dialDown', 'branchDown'],
  readAgain: ['againRoom', 'againDial', 'againBranch'],
  dialPutBack: ['dialBack'],
};
const wholeSteps = ['fullTravel', 'throttling', 'readAgain'];
const adjustmentSteps = ['left', 'throttling'];
const openInWrongState = ['mainPressure', 'dialPutBack'];

/** Figures that do not read, and steps that are filled in half: closing would drop what was typed. */
export function typingProblems(text: EntryText, isShut: boolean): { field: string; reason: string }[] {
  const problems: { field: string; reason: string }[] = [];
  for (const [field, keys] of Object.entries(figuresOfStep)) {
    // In the wrong air state these fields are shut: the card says so, and what stands there is not asked for.
    if (isShut && !openInWrongState.includes(field)) continue;
    if (adjustmentSteps.includes(field) && !text.adjusted) {
      if (keys.some((key) => text[key] !== ''))
        problems.push({
          field: 'left',
          reason: 'as-left figures stand here: tick “I adjusted it”, or clear them',
        });
      continue;
    }
    const figures = keys.map((key) => (text[key] as string).trim());
    const unread = figures.filter((figure) => typingProblem(figure) !== null);
    for (const figure of unread) problems.push({ field, reason: `“${figure}” is not a figure` });
    const filled = figures.filter((figure) => figure !== '').length;
    if (wholeSteps.includes(field) && filled > 0 && filled < figures.length)
      problems.push({ field, reason: `${filled} of ${figures.length} figures: give all, or none` });
  }
  return problems;
}

/** The entry as figures. The two-of-two fields count only when both are there. */
export function toEntry(text: EntryText): CardEntry & { note: string } {
  const one = typed(text.swingOne);
  const other = typed(text.swingOther);
  const throttling = [typed(text.dialUp), typed(text.branchUp), typed(text.dialDown), typed(text.branchDown)];
  const again = [typed(text.againRoom), typed(text.againDial), typed(text.againBranch)];
  return {
    mainPressureMilli: typed(text.main),
    preconditions: text.preconditions,
    preconditionNote: text.preconditionNote,
    found: readings(text.foundDial, text.foundRoom, text.foundBranch, text.foundDialAtCalibration),
    fullTravel: one === null || other === null ? null : { oneWayMilli: one, otherWayMilli: other },
    left: text.adjusted
      ? readings(text.leftDial, text.leftRoom, text.leftBranch, text.leftDialAtCalibration)
      : null,
    throttling:
      text.adjusted && throttling.every((value) => value !== null)
        ? {
            dialUpMilli: throttling[0] as number,
            branchUpMilli: throttling[1] as number,
            dialDownMilli: throttling[2] as number,
            branchDownMilli: throttling[3] as number,
          }
        : null,
    readAgain: again.every((value) => value !== null)
      ? {
          temperatureMilli: again[0] as number,
          dialMilli: again[1] as number,
          branchMilli: again[2] as number,
        }
      : null,
    dialPutBackMilli: typed(text.dialBack),
    restored: { main: text.restoredMain, override: text.restoredOverride, valves: text.restoredValves },
    outcome: text.outcome || 'not tested',
    note: text.note,
  };
}

/** The same entry in the contract's shape. */
export function toBenchEntry(
  { testPointId, role }: BenchSetpoint,
  { entries, seen }: Pick<CardText, 'entries' | 'seen'>,
): BenchEntry {
  const text = entries[role];
  return {
    testPointId,
    seen: seen[role] ?? null,
    ...toEntry(text),
    preconditions: { ...text.preconditions },
  };
}

/** The newest record of each setpoint, as the card has it. */
export function seenOf(card: BenchCard): Record<string, number | null> {
  return Object.fromEntries(card.setpoints.map(({ role, newestRecordId }) => [role, newestRecordId]));
}

/** How the card judges a setpoint; null while its calibration pressure is not known. */
export function settingOf(card: BenchCard, setpoint: BenchSetpoint): CardSetting | null {
  return cardSetting(setpoint, { pressure: card.pressureUnit, temperature: card.temperatureUnit }, card);
}
