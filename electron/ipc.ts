/** The only file that touches ipcMain: every message is checked for its sender and its shape before it runs. */
import type { IpcMain, IpcMainInvokeEvent } from 'electron';
import type { z } from 'zod';
import { isOwnUrl } from './security.ts';

/** True for a message from the main frame of our own page. */
export function isTrustedSender(event: Pick<IpcMainInvokeEvent, 'senderFrame' | 'sender'>): boolean {
  const frame = event.senderFrame;
  return frame !== null && frame === event.sender.mainFrame && isOwnUrl(frame.url);
}

/** Registers a handler that runs only for trusted senders and input of the right shape. */
export function handleTrusted<Schema extends z.ZodType>(
  ipcMain: Pick<IpcMain, 'handle'>,
  channel: string,
  options: { schema: Schema; run: (input: z.output<Schema>, event: IpcMainInvokeEvent) => Promise<unknown> },
): void {
  ipcMain.handle(channel, async (event, input: unknown) => {
    if (!isTrustedSender(event)) throw new Error('refused: not our page');
    const parsed = options.schema.safeParse(input);
    if (!parsed.success) throw new Error('refused: not of the right shape');
    return options.run(parsed.data, event);
  });
}
