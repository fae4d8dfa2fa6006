/**
 * Keeps the draft of a paper sheet at every keystroke: one write at a time, and the newest text next. What is typed
 * while a write is under way goes with the one after it.
 */
import { call } from '../../api/client.ts';
import { ApiError } from '../../api/transport.ts';
import type { SheetScope } from '../../../shared/contract/paper.ts';

export type DraftState = 'kept' | 'writing' | 'changed elsewhere' | 'no answer';

const RETRY_MS = 2_000;
/** Longest wait for a draft before the sheet is written or thrown away. */
const SETTLE_MS = 4_000;

export type DraftKeeper = {
  keep: (json: string) => void;
  /** When nothing is under way any more, or the program has not answered for some seconds. */
  settled: () => Promise<void>;
  /** Revision of the draft that was kept last. */
  revision: () => number;
  /** Goes on over a draft of another window, which is given up. */
  over: (revision: number) => void;
  /** Nothing more is written: the sheet was closed, or is left. */
  stop: () => void;
};

/** A keeper over the draft of that revision (0 = none yet); `tell` hears how it stands. */
export function createDraftKeeper(
  scope: SheetScope,
  revision: number,
  tell: (state: DraftState) => void,
): DraftKeeper {
  let held = revision;
  let waiting: string | null = null;
  let isStopped = false;
  // While the program does not answer, that stands there and nothing else.
  let isLost = false;
  let running: Promise<void> | null = null;

  function next(): string | null {
    const json = isStopped ? null : waiting;
    waiting = null;
    return json;
  }

  async function write(): Promise<void> {
    for (let json = next(); json !== null; json = next()) {
      try {
        held = (await call('paper.saveDraft', { scope, json, over: held })).revision;
        isLost = false;
        if (waiting === null) tell('kept');
      } catch (error) {
        if (error instanceof ApiError && error.code === 'conflict') {
          tell('changed elsewhere');
          return;
        }
        isLost = true;
        tell('no answer');
        waiting ??= json;
        await new Promise((resolve) => {
          setTimeout(resolve, RETRY_MS);
        });
      }
    }
  }

  return {
    keep: (json) => {
      if (isStopped) return;
      waiting = json;
      if (!isLost) tell('writing');
      running ??= write().finally(() => {
        running = null;
      });
    },
    settled: async () => {
      await Promise.race([
        running,
        new Promise((resolve) => {
          setTimeout(resolve, SETTLE_MS);
        }),
      ]);
    },
    revision: () => held,
    over: (revision) => {
      held = revision;
    },
    stop: () => {
      isStopped = true;
      waiting = null;
    },
  };
}
