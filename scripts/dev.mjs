/** `npm run dev`: the host on a book, built anew and started again by hand; for quick looks while working. */
import { spawn } from 'node:child_process';
import path from 'node:path';
import { buildRenderer, installIfNeeded, nodeBinary, nodeFlags, root, vite } from './bootstrap.mjs';

installIfNeeded();
buildRenderer();
const options = { cwd: root, stdio: 'inherit' };
const watch = spawn(nodeBinary(), [vite, 'build', '--watch', '--logLevel', 'warn'], options);
const host = spawn(
  nodeBinary(),
  [...nodeFlags(), '--watch', path.join('host', 'serve.ts'), '--no-open', ...process.argv.slice(2)],
  options,
);
for (const signal of ['SIGINT', 'SIGTERM'])
  process.on(signal, () => {
    watch.kill(signal);
    host.kill(signal);
  });
host.on('exit', () => watch.kill());
