/** Checks the types of every layer with its own configuration: a wrong global fails to compile. */
import path from 'node:path';
import { run } from './bootstrap.mjs';

export const layers = ['shared', 'db', 'migrations', 'service', 'host', 'electron', 'renderer', 'tests'];

/** True when every layer compiles. */
export function checkTypes() {
  return layers
    .map(
      (layer) =>
        run([path.join('node_modules', 'typescript', 'bin', 'tsc'), '-p', `tsconfigs/${layer}.json`]) ||
        (console.error(`types: ${layer} failed`), false),
    )
    .every(Boolean);
}

if (process.argv[1].endsWith('types.mjs')) process.exit(checkTypes() ? 0 : 1);
