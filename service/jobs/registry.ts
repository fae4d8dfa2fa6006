/**
 * The long work of the program, by the name of the call that starts it. Each is loaded when it is asked for: a worker needs
 * one of them, and the program none to start.
 */
import type { JobName } from '../../shared/contract/index.ts';
import type { JobHandler } from '../context.ts';

export const jobHandlers: { [Name in JobName]: () => Promise<JobHandler<Name>> } = {
  'air.network': async () => (await import('../air/network.ts')).readAirNetwork,
  'drift.group': async () => (await import('../drift/group.ts')).groupDrift,
  'energy.baseline': async () => (await import('../energy/baseline.ts')).baselineJob,
  'energy.rank': async () => (await import('../energy/rank.ts')).rankEnergy,
  'evidence.check': async () => (await import('../evidence/jobs.ts')).checkJob,
  'evidence.preview': async () => (await import('../evidence/jobs.ts')).previewJob,
  'evidence.write': async () => (await import('../evidence/jobs.ts')).writeJob,
  'findings.list': async () => (await import('../findings/list.ts')).listFindings,
  'intervals.recommend': async () => (await import('../intervals/recommend.ts')).recommendIntervals,
  'register.load': async () => (await import('../register/loadFiles.ts')).loadRegister,
  'records.load': async () => (await import('../records/loadReadings.ts')).loadReadings,
  'records.verify': async () => (await import('../records/verifyBook.ts')).verifyBook,
  'retrofit.quantities': async () => (await import('../retrofit/quantities.ts')).quantitiesJob,
  'rounds.draw': async () => (await import('../rounds/drawIntoBook.ts')).drawIntoBook,
  'rounds.redraw': async () => (await import('../rounds/redrawIntoBook.ts')).redrawIntoBook,
};
