/**
 * Keeps drafts of bench cards, one write after the other, so that none overtakes another. What this window has
 * typed and not yet seen on disk stays in `waiting`, and comes back when the card is opened again.
 */
import { call } from '../../api/client.ts';
import { ApiError } from '../../api/transport.ts';

export type DraftFate = 'kept' | 'changed elsewhere' | 'no answer';

const waiting = new Map<number, string>();
/** The draft that the book holds, as far as this window knows; a write over anything else is refused. */
const held = new Map<number, string | null>();
let writes: Promise<unknown> = Promise.resolve();

/** When every write that was begun has ended, well or not. */
export async function draftsSettled(): Promise<void> {
  await writes;
}

/** The draft to begin with: what waits in this window, else what the book holds. */
export function takeUpDraft(deviceId: number, json: string | null): string | null {
  held.set(deviceId, json);
  return waiting.get(deviceId) ?? json;
}

/** Nothing waits any more: the card was closed, or its draft given up. */
export function forgetDraft(deviceId: number): void {
  waiting.delete(deviceId);
  held.set(deviceId, null);
}

async function write(deviceId: number, json: string): Promise<DraftFate> {
  if (waiting.get(deviceId) !== json) return 'kept';
  try {
    await call('bench.saveDraft', { deviceId, json, over: held.get(deviceId) ?? null });
  } catch (error) {
    if (!(error instanceof ApiError) || error.code !== 'conflict') return 'no answer';
    waiting.delete(deviceId);
    held.set(deviceId, (error.details.current as { json: string } | null)?.json ?? null);
    return 'changed elsewhere';
  }
  held.set(deviceId, json);
  if (waiting.get(deviceId) === json) waiting.delete(deviceId);
  return 'kept';
}

/** Writes a draft after those before it. After `changed elsewhere` the next write goes over the other window's. */
export function keepDraft(deviceId: number, json: string): Promise<DraftFate> {
  waiting.set(deviceId, json);
  const fate = writes.then(() => write(deviceId, json));
  writes = fate;
  return fate;
}
