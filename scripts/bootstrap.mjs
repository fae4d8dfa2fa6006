/**
 * What `npm start` and `npm test` share, in plain Node without dependencies: install when the lock file
 * changed, find a Node that is new enough, build the renderer when its sources changed.
 */
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

/** The project's folder. */
export const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');
const NEEDED_NODE = 24;

/*
 * Node takes the types away from our files as it loads them, in every thread anew, by a WebAssembly program. What it
 * made is kept here, for all that is started from here: commands and jobs start in half the time.
 */
process.env.NODE_COMPILE_CACHE ??= path.join(root, 'node_modules', '.cache', 'code');

export function fail(message) {
  console.error(message);
  process.exit(1);
}

function fileHash(file) {
  return createHash('sha256').update(readFileSync(file)).digest('hex');
}

/** `npm ci` when node_modules does not match the lock file. */
export function installIfNeeded() {
  if (ownVersion < 20) fail(`Node 20 or newer is needed to install; this is ${process.version}.`);
  const stamp = path.join(root, 'node_modules', '.almanac-stamp');
  const lock = path.join(root, 'package-lock.json');
  const wanted = fileHash(lock);
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === wanted) return;
  // Somebody has run `npm ci` themselves: npm writes this file last.
  const installed = path.join(root, 'node_modules', '.package-lock.json');
  if (!existsSync(stamp) && existsSync(installed) && statSync(installed).mtimeMs >= statSync(lock).mtimeMs) {
    writeFileSync(stamp, wanted);
    return;
  }
  // On standard error, as all that npm says: standard output belongs to the command.
  console.error('Installing packages (once)…');
  const windows = process.platform === 'win32';
  const npm = process.env.npm_execpath
    ? [process.execPath, process.env.npm_execpath]
    : [windows ? 'npm.cmd' : 'npm'];
  const result = spawnSync(npm[0], [...npm.slice(1), 'ci', '--no-audit', '--no-fund', '--loglevel=error'], {
    cwd: root,
    stdio: ['ignore', process.stderr.fd, 'inherit'],
    shell: windows && npm.length === 1,
  });
  if (result.status !== 0) fail('The packages could not be installed; see above.');
  writeFileSync(stamp, wanted);
}

/** Where the person stands who called npm: paths that they give are meant from there. */
export function callerFolder() {
  return process.env.INIT_CWD ?? process.cwd();
}

/** The Node of the optional package; null where it is not installed. */
function packagedNode() {
  const file = path.join(root, 'node_modules', '.bin', 'node');
  return process.platform === 'linux' && existsSync(file) ? file : null;
}

const ownVersion = Number(process.versions.node.split('.')[0]);

/** A Node of at least version 24: the one from the optional package, else the system's own. */
export function nodeBinary() {
  const packaged = packagedNode();
  if (packaged !== null) return packaged;
  if (ownVersion >= NEEDED_NODE) return process.execPath;
  return fail(
    `Node ${NEEDED_NODE} or newer is needed here (this is ${process.version}); on 64-bit Linux it comes with the packages.`,
  );
}

/**
 * For every Node that runs our files as they stand, where it is a 24: another may not know it. V8 swaps the entry points
 * of a WebAssembly program that is used much, and gives back the old ones; with several threads at it that can end the
 * process ("Check failed: jit_page.has_value()"; node's issue 64500 is a like one). It is told not to swap them.
 */
export function nodeFlags() {
  const isKnown = packagedNode() !== null || ownVersion === NEEDED_NODE;
  return isKnown ? ['--wasm-wrapper-tiering-budget=2147483647'] : [];
}

function sourcesHash(folders) {
  const hash = createHash('sha256');
  for (const folder of folders) {
    const full = path.join(root, folder);
    const files = statSync(full).isDirectory()
      ? readdirSync(full, { recursive: true }).map((name) => path.join(full, name))
      : [full];
    for (const file of files.sort()) {
      if (!statSync(file).isFile()) continue;
      hash.update(path.relative(root, file)).update(readFileSync(file));
    }
  }
  return hash.digest('hex');
}

/** Runs a script of a package with our Node; answers true when it succeeded. */
export function run(args, options = {}) {
  return spawnSync(nodeBinary(), args, { cwd: root, stdio: 'inherit', ...options }).status === 0;
}

function buildOnce(name, folders, args) {
  const stampFolder = path.join(root, '.stamps');
  const stamp = path.join(stampFolder, name);
  const wanted = sourcesHash([...folders, 'package-lock.json']);
  if (
    existsSync(stamp) &&
    readFileSync(stamp, 'utf8') === wanted &&
    existsSync(path.join(root, 'dist', name))
  )
    return;
  console.log(`Building the ${name}…`);
  if (!run(args, { stdio: ['ignore', 'ignore', 'inherit'] }))
    fail(`The ${name} could not be built; see above.`);
  mkdirSync(stampFolder, { recursive: true });
  writeFileSync(stamp, wanted);
}

export const vite = path.join('node_modules', 'vite', 'bin', 'vite.js');

/** The page, when anything that goes into it changed. */
export function buildRenderer() {
  buildOnce('renderer', ['renderer', 'shared', 'vite.config.ts'], [vite, 'build', '--logLevel', 'error']);
}

/** The desktop shell's main process, preload and worker, when anything that goes into them changed. */
export function buildElectron() {
  buildOnce(
    'electron',
    ['electron', 'service', 'db', 'migrations', 'shared', 'scripts/buildElectron.ts'],
    ['scripts/buildElectron.ts'],
  );
}
