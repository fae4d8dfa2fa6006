/** Checks the types of every layer with its own configuration: a wrong global fails to compile. */
import { spawn } from 'node:child_process';
import path from 'node:path';
import { nodeBinary, root } from './bootstrap.mjs';

export const layers = ['shared', 'db', 'migrations', 'service', 'host', 'electron', 'renderer', 'tests'];
/** Compilers at work at once: one takes some 700 MB. */
const AT_ONCE = 2;
const compiler = path.join('node_modules', 'typescript', 'bin', 'tsc');

function compiles(layer) {
  return new Promise((resolve) => {
    const child = spawn(nodeBinary(), [compiler, '-p', `tsconfigs/${layer}.json`], {
      cwd: root,
      stdio: 'inherit',
    });
    child.on('error', () => resolve(false));
    child.on('exit', (code) => resolve(code === 0));
  });
}

/** True when every layer compiles. */
export async function checkTypes() {
  const waiting = [...layers];
  const failed = [];
  const work = async () => {
    for (let layer = waiting.pop(); layer !== undefined; layer = waiting.pop())
      if (!(await compiles(layer))) failed.push(layer);
  };
  await Promise.all(Array.from({ length: AT_ONCE }, work));
  for (const layer of failed) console.error(`types: ${layer} failed`);
  return failed.length === 0;
}

if (process.argv[1].endsWith('types.mjs')) process.exit((await checkTypes()) ? 0 : 1);
