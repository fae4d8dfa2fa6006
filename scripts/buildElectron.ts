/** Builds the desktop shell: main and worker as modules with the packages left outside, preload as one CommonJS file. */
import { copyFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');
const outDir = path.join(root, 'dist', 'electron');

async function bundle(
  entry: Record<string, string>,
  format: 'es' | 'cjs',
  emptyOutDir: boolean,
): Promise<void> {
  const extension = format === 'es' ? 'js' : 'cjs';
  await build({
    configFile: false,
    root,
    logLevel: 'error',
    build: {
      ssr: true,
      outDir,
      emptyOutDir,
      target: 'node24',
      minify: false,
      rollupOptions: {
        input: entry,
        external: /^[^./]|^node:/,
        output: { format, entryFileNames: `[name].${extension}` },
      },
    },
    ssr: { external: true },
  });
}

await bundle(
  { main: path.join(root, 'electron/main.ts'), worker: path.join(root, 'service/jobs/worker.ts') },
  'es',
  true,
);
// A pack takes this file along as it stands.
copyFileSync(path.join(root, 'service/evidence/check.mjs'), path.join(outDir, 'check.mjs'));
await bundle({ preload: path.join(root, 'electron/preload.ts') }, 'cjs', false);
