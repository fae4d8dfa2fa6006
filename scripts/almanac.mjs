/** `npm run -s almanac -- COMMAND`: the command line with our Node, installing the packages when that was not done yet. */
import { spawnSync } from 'node:child_process';
import path from 'node:path';
import { callerFolder, installIfNeeded, nodeBinary, root } from './bootstrap.mjs';

installIfNeeded();
const result = spawnSync(nodeBinary(), [path.join(root, 'host', 'cli.ts'), ...process.argv.slice(2)], {
  cwd: callerFolder(),
  stdio: 'inherit',
});
process.exit(result.status ?? 1);
