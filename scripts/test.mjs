/** `npm test`: format, types, lint, layers, then every test there is; a closing line with the counts. */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { buildElectron, buildRenderer, fail, installIfNeeded, nodeBinary, root, run } from './bootstrap.mjs';

const chromium = process.env.ALMANAC_CHROMIUM ?? '/usr/bin/chromium';

/** A real Chromium for the screens and a reader of PDFs: Debian's, installed when missing and we are root. */
function requireTools() {
  const missing = [chromium, '/usr/bin/pdftotext'].filter((file) => !existsSync(file));
  if (missing.length === 0) return;
  const isRoot = process.getuid?.() === 0;
  if (!isRoot || !existsSync('/usr/bin/apt-get'))
    fail(
      `The end-to-end tests need ${missing.join(' and ')}. Install them (Debian: apt-get install chromium poppler-utils), or name another Chromium with ALMANAC_CHROMIUM.`,
    );
  console.log('Installing Chromium and a PDF reader (once)…');
  const environment = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
  const packages = ['chromium', 'fonts-dejavu-core', 'poppler-utils'];
  for (const args of [
    ['update', '-qq'],
    ['install', '-y', '-qq', '--no-install-recommends', ...packages],
  ])
    if (spawnSync('apt-get', args, { stdio: ['ignore', 'ignore', 'inherit'], env: environment }).status !== 0)
      fail('They could not be installed; see above.');
}

installIfNeeded();
const { checkTypes } = await import('./types.mjs');
const { checkLayers } = await import('./layers.mjs');
const bin = (...parts) => path.join('node_modules', ...parts);
let passed = 0;
let failed = 0;

async function step(name, work) {
  const started = Date.now();
  const isOk = await work();
  console.log(`${isOk ? 'ok' : 'FAILED'}  ${name}  ${((Date.now() - started) / 1000).toFixed(1)} s`);
  if (isOk) passed += 1;
  else failed += 1;
}

/** Runs a vitest project and adds its counts; skipped tests count as failed, so that nothing hides. */
function suite(project) {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-test-'));
  const output = path.join(folder, 'report.json');
  run(
    [
      bin('vitest', 'vitest.mjs'),
      'run',
      '--project',
      project,
      '--reporter=default',
      '--reporter=json',
      `--outputFile.json=${output}`,
    ],
    { env: { ...process.env, ALMANAC_CHROMIUM: chromium } },
  );
  if (!existsSync(output)) {
    console.log(`FAILED  ${project}: no report`);
    failed += 1;
    return;
  }
  const report = JSON.parse(readFileSync(output, 'utf8'));
  const brokenFiles = report.testResults.filter(
    (file) => file.status === 'failed' && file.assertionResults.length === 0,
  ).length;
  passed += report.numPassedTests;
  failed += report.numFailedTests + report.numPendingTests + report.numTodoTests + brokenFiles;
  if (report.numTotalTests === 0) failed += 1;
  rmSync(folder, { recursive: true });
}

await step('format', () =>
  run([bin('prettier', 'bin', 'prettier.cjs'), '--check', '--log-level', 'warn', '.']),
);
await step('types', checkTypes);
await step('lint', () => run([bin('oxlint', 'bin', 'oxlint'), '--quiet', '--type-aware']));
await step('layers', checkLayers);
buildRenderer();
buildElectron();
requireTools();
suite('unit');
suite('e2e');
spawnSync(nodeBinary(), [path.join('scripts', 'testDesktop.mjs')], { cwd: root, stdio: 'inherit' });
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
