/** The long work of the program, by the name of the call that starts it. */
import type { JobName } from '../../shared/contract/index.ts';
import type { JobHandler } from '../context.ts';
import { groupDrift } from '../drift/group.ts';
import { recommendIntervals } from '../intervals/recommend.ts';
import { loadReadings } from '../records/loadReadings.ts';
import { verifyBook } from '../records/verifyBook.ts';
import { loadRegister } from '../register/loadFiles.ts';
import { drawIntoBook } from '../rounds/drawIntoBook.ts';
import { redrawIntoBook } from '../rounds/redrawIntoBook.ts';

export const jobHandlers: { [Name in JobName]: JobHandler<Name> } = {
  'drift.group': groupDrift,
  'intervals.recommend': recommendIntervals,
  'register.load': loadRegister,
  'records.load': loadReadings,
  'records.verify': verifyBook,
  'rounds.draw': drawIntoBook,
  'rounds.redraw': redrawIntoBook,
};
