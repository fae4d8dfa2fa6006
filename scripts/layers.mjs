/** Checks import direction and cycles. A run that sees no modules is a failure, not a pass. */
import { spawnSync } from 'node:child_process';
import path from 'node:path';
import { nodeBinary, root } from './bootstrap.mjs';

const folders = ['shared', 'db', 'migrations', 'service', 'host', 'electron', 'renderer'];
const LEAST_MODULES = 100;

/** True when there are modules and none breaks a rule. */
export function checkLayers() {
  const bin = path.join(root, 'node_modules', 'dependency-cruiser', 'bin', 'dependency-cruiser.mjs');
  const result = spawnSync(
    nodeBinary(),
    [bin, ...folders, '--config', '.dependency-cruiser.cjs', '--output-type', 'json'],
    { cwd: root, encoding: 'utf8', maxBuffer: 256 * 1024 * 1024 },
  );
  let report;
  try {
    report = JSON.parse(result.stdout);
  } catch {
    console.error(result.stderr || result.stdout);
    return false;
  }
  const own = report.modules.filter((module) =>
    folders.some((folder) => module.source.startsWith(`${folder}/`)),
  );
  for (const violation of report.summary.violations)
    console.error(`${violation.rule.name}: ${violation.from} -> ${violation.to}`);
  console.log(`layers: ${own.length} modules, ${report.summary.violations.length} violations`);
  return own.length >= LEAST_MODULES && report.summary.error === 0;
}

if (process.argv[1].endsWith('layers.mjs')) process.exit(checkLayers() ? 0 : 1);
