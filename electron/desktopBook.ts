/** The book that the desktop has open, and how another one takes its place. Paths never reach the page. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { createBook, openBook } from '../db/book.ts';
import { toAppError } from '../db/errors.ts';
import { systemClock } from '../service/clock.ts';
import { createRequestCore } from '../service/http/handler.ts';
import type { RequestCore } from '../service/http/handler.ts';
import type { Assets } from '../service/http/assets.ts';
import { createSampleBook } from '../service/sample/createSample.ts';
import { createService } from '../service/service.ts';
import type { Service } from '../service/service.ts';
import type { DesktopAnswer } from '../shared/contract/desktop.ts';

export type DesktopBook = {
  core: () => RequestCore;
  /** Opens a file; on failure the book that was open stays open and the answer says why. */
  open: (file: string) => Promise<DesktopAnswer>;
  create: (file: string) => Promise<DesktopAnswer>;
  openSample: () => Promise<DesktopAnswer>;
  /** The book of the last time, else the sample site. */
  openLast: () => Promise<DesktopAnswer>;
  close: () => Promise<void>;
};

const SAMPLE = 'wexmoor-sample.book';

/** Holds one open book over the user's data folder. */
export function createDesktopBook(setup: {
  userData: string;
  assets: Assets;
  workerUrl: URL;
  log: (line: string) => void;
}): DesktopBook {
  const lastFile = path.join(setup.userData, 'last-book.txt');
  let service: Service | null = null;
  let core: RequestCore = async () => new Response('no book is open', { status: 503 });

  async function take(file: string): Promise<DesktopAnswer> {
    try {
      const book = await openBook(file);
      const previous = service;
      service = createService({ book, clock: systemClock, log: setup.log, workerUrl: setup.workerUrl });
      core = createRequestCore(service, setup.assets);
      writeFileSync(lastFile, file, { mode: 0o600 });
      await previous?.close();
      return { done: true, message: `${path.basename(file)} is open.` };
    } catch (error) {
      const known = toAppError(error);
      if (!known) throw error;
      return { done: false, message: known.message };
    }
  }

  async function openSample(): Promise<DesktopAnswer> {
    const file = path.join(setup.userData, SAMPLE);
    if (!existsSync(file)) await createSampleBook(file);
    return take(file);
  }

  return {
    core: () => core,
    open: take,
    create: async (file) => {
      try {
        await (await createBook(file)).close();
      } catch (error) {
        const known = toAppError(error);
        if (!known) throw error;
        return { done: false, message: known.message };
      }
      return take(file);
    },
    openSample,
    openLast: async () => {
      const last = existsSync(lastFile) ? readFileSync(lastFile, 'utf8') : '';
      if (last !== '' && existsSync(last)) {
        const answer = await take(last);
        if (answer.done) return answer;
        setup.log(answer.message);
      }
      return openSample();
    },
    close: async () => {
      await service?.close();
      service = null;
    },
  };
}
