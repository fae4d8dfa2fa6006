/** The planner gives the same round in a worker of a real browser as here, byte for byte. */
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { expect, it } from 'vitest';
import { build } from 'vite';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { assignmentHash } from '../../shared/planning/hash.ts';
import { generateInstance } from '../support/generateInstance.ts';
import { launchBrowser, root } from './support.ts';

/** Changes only with a change of the search itself; say so in the commit that changes it. */
const KNOWN = { hash: 'dbf7819d8efb831b', total: 4183, bound: 2762 };

const recipe = { tasks: 1000, seed: 1 };
const options = { seed: 1, evaluations: 400_000 };

it('draws the same round on two runs here and in a browser worker', async () => {
  const runs = [1, 2].map(() => {
    const drawn = drawRound(generateInstance(recipe), options);
    return {
      hash: assignmentHash(drawn.assignment),
      total: drawn.evaluation.total,
      bound: drawn.bounds.total,
    };
  });
  expect(runs).toEqual([KNOWN, KNOWN]);
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-worker-'));
  const entry = path.join(folder, 'entry.ts');
  writeFileSync(
    entry,
    `import { drawRound } from '${root}/shared/planning/drawRound.ts';
import { assignmentHash } from '${root}/shared/planning/hash.ts';
import { generateInstance } from '${root}/tests/support/generateInstance.ts';
const drawn = drawRound(generateInstance(${JSON.stringify(recipe)}), ${JSON.stringify(options)});
postMessage({ hash: assignmentHash(drawn.assignment), total: drawn.evaluation.total, bound: drawn.bounds.total });
`,
  );
  await build({
    configFile: false,
    root,
    logLevel: 'error',
    build: {
      outDir: path.join(folder, 'out'),
      lib: { entry, name: 'planner', formats: ['iife'], fileName: () => 'worker.js' },
      minify: false,
    },
  });
  const code = readFileSync(path.join(folder, 'out', 'worker.js'), 'utf8');
  const browser = await launchBrowser();
  const page = await browser.newPage();
  const answer = await page.evaluate(
    (text) =>
      new Promise((resolve, reject) => {
        const worker = new Worker(URL.createObjectURL(new Blob([text], { type: 'text/javascript' })));
        worker.addEventListener('message', (event: MessageEvent) => resolve(event.data));
        worker.addEventListener('error', (event) => reject(new Error(event.message)));
      }),
    code,
  );
  await browser.close();
  expect(answer).toEqual(KNOWN);
});
