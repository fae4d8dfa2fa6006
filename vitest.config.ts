import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';
import { nodeFlags } from './scripts/bootstrap.mjs';

const root = path.dirname(fileURLToPath(import.meta.url));
/** Electron cannot be imported without its binary; tests get a stand-in that drives the real shell code. */
const standIn = { electron: path.join(root, 'tests/electron/standIn.ts') };

export default defineConfig({
  test: {
    projects: [
      {
        resolve: { alias: standIn },
        test: {
          name: 'unit',
          execArgv: nodeFlags(),
          globalSetup: ['tests/support/sampleSetup.ts'],
          include: ['tests/**/*.test.ts'],
          exclude: ['tests/e2e/**', 'tests/desktop/**'],
          testTimeout: 60_000,
          hookTimeout: 120_000,
          maxWorkers: 2,
        },
      },
      {
        resolve: { alias: standIn },
        test: {
          name: 'e2e',
          execArgv: nodeFlags(),
          globalSetup: ['tests/support/sampleSetup.ts'],
          include: ['tests/e2e/**/*.test.ts'],
          testTimeout: 180_000,
          hookTimeout: 180_000,
          maxWorkers: 2,
        },
      },
      { test: { name: 'desktop', include: ['tests/desktop/**/*.test.ts'], testTimeout: 180_000 } },
    ],
  },
});
