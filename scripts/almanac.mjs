/** `npm run -s almanac -- COMMAND`: the command line with our Node, installing the packages when that was not done yet. */
import { spawnSync } from 'node:child_process';
import path from 'node:path';
import { callerFolder, installIfNeeded, nodeBinary, nodeFlags, root } from './bootstrap.mjs';

installIfNeeded();
// A small nursery: what goes by in millions of rows is tidied away at once, and the memory stays small.
const SMALL_NURSERY = '--max-semi-space-size=8';
const result = spawnSync(
  nodeBinary(),
  [...nodeFlags(), SMALL_NURSERY, path.join(root, 'host', 'cli.ts'), ...process.argv.slice(2)],
  { cwd: callerFolder(), stdio: 'inherit' },
);
process.exit(result.status ?? 1);
