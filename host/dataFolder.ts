/** Where books live when nobody says otherwise: the user's own data folder. */
import { existsSync, mkdirSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';

export const SAMPLE_BOOK = 'wexmoor-sample.book';

/** The data folder of this user, made when missing. `ALMANAC_DATA` overrides it. */
export function dataFolder(environment: NodeJS.ProcessEnv = process.env): string {
  const folder =
    environment.ALMANAC_DATA ??
    (process.platform === 'win32'
      ? path.join(environment.APPDATA ?? os.homedir(), 'Setpoint Almanac')
      : process.platform === 'darwin'
        ? path.join(os.homedir(), 'Library', 'Application Support', 'Setpoint Almanac')
        : path.join(
            environment.XDG_DATA_HOME ?? path.join(os.homedir(), '.local', 'share'),
            'setpoint-almanac',
          ));
  if (!existsSync(folder)) mkdirSync(folder, { recursive: true, mode: 0o700 });
  return folder;
}
