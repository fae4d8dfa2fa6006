/** The loopback shell as a program: opens a book, serves it on 127.0.0.1, and says where. */
import { spawn } from 'node:child_process';
import { appendFileSync, existsSync, rmSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { openBook } from '../db/book.ts';
import { systemClock } from '../service/clock.ts';
import { readAssets } from '../service/http/assets.ts';
import { createRequestCore } from '../service/http/handler.ts';
import { createSampleBook } from '../service/sample/createSample.ts';
import { createService } from '../service/service.ts';
import { AppError } from '../shared/contract/errors.ts';
import { parseArguments } from './arguments.ts';
import { SAMPLE_BOOK, dataFolder } from './dataFolder.ts';
import { startLoopbackHost } from './server.ts';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');

function openInBrowser(url: string): void {
  const hasDisplay =
    process.platform !== 'linux' || Boolean(process.env.DISPLAY || process.env.WAYLAND_DISPLAY);
  if (!hasDisplay) return;
  const [command, ...args] =
    process.platform === 'win32'
      ? ['cmd', '/c', 'start', '', url]
      : process.platform === 'darwin'
        ? ['open', url]
        : ['xdg-open', url];
  const child = spawn(command, args, { stdio: 'ignore', detached: true });
  child.on('error', () => {});
  child.unref();
}

async function bookFileOf(given: string | undefined): Promise<string> {
  if (given !== undefined) return path.resolve(given);
  const file = path.join(dataFolder(), SAMPLE_BOOK);
  if (!existsSync(file)) {
    console.log('First run: making the sample site…');
    await createSampleBook(file);
  }
  return file;
}

async function main(): Promise<void> {
  const args = parseArguments(
    process.argv.slice(2),
    { book: 'text', port: 'integer', 'no-open': 'flag' },
    { least: 0, most: 0 },
  );
  const folder = dataFolder();
  const logFile = path.join(folder, 'almanac.log');
  const log = (line: string): void => {
    console.error(line);
    appendFileSync(logFile, `${line}\n`, { mode: 0o600 });
  };
  const book = await openBook(await bookFileOf(args.text('book')));
  const service = createService({ book, clock: systemClock, log });
  const core = createRequestCore(service, readAssets(path.join(root, 'dist', 'renderer')));
  const host = await startLoopbackHost({
    core,
    port: args.integer('port'),
    report: (detail) => void service.report(detail),
  });
  const addressFile = path.join(folder, 'address');
  rmSync(addressFile, { force: true });
  writeFileSync(addressFile, `${host.url}\n`, { mode: 0o600 });
  console.log(`Setpoint Almanac is open at ${host.url}`);
  console.log(`Book: ${book.file}`);
  console.log('Close it with Ctrl+C.');
  if (!args.flag('no-open')) openInBrowser(host.url);
  let isClosing = false;
  const close = async (): Promise<void> => {
    if (isClosing) return;
    isClosing = true;
    await host.close();
    await service.close();
    rmSync(addressFile, { force: true });
    process.exit(0);
  };
  process.on('SIGINT', () => void close());
  process.on('SIGTERM', () => void close());
}

try {
  await main();
} catch (error) {
  if (!(error instanceof AppError)) throw error;
  console.error(error.message);
  for (const problem of error.details.problems ?? [])
    console.error(`${problem.column} ${problem.value}: ${problem.reason}`);
  process.exitCode = 2;
}
