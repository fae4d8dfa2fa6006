/** Books for tests: real SQLite files in a folder of their own, gone when the test is over. */
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { inject, onTestFinished } from 'vitest';
import { createBook, openBook } from '../../db/book.ts';
import { fixedClock } from '../../service/clock.ts';
import { createService } from '../../service/service.ts';
import type { Service } from '../../service/service.ts';
import type { FileStyle, LoadReport } from '../../shared/contract/register.ts';

export const NOW = '2026-11-25T09:00:00Z';
export const plainFileStyle: FileStyle = {
  pressure: 'psi',
  temperature: 'degF',
  dates: 'ymd',
  decimals: 'point',
  encoding: 'utf-8',
};

/** A folder that is removed after the test. */
export function temporaryFolder(): string {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

/** A copy of the sample book. */
export function sampleFile(): string {
  const file = path.join(temporaryFolder(), 'sample.book');
  copyFileSync(inject('sampleFile'), file);
  return file;
}

/** The service over a book; every answer is parsed. */
export async function serviceOver(file: string): Promise<Service> {
  const service = createService({
    book: await openBook(file),
    clock: fixedClock(NOW),
    checkAnswers: true,
    log: (line) => console.error(line),
  });
  onTestFinished(() => service.close());
  return service;
}

/** The service over a copy of the sample book. */
export async function sampleService(): Promise<Service> {
  return serviceOver(sampleFile());
}

/** As `sampleService`, with the round of 2027 drawn; `evaluations` absent = as many as by size. */
export async function drawnSample(evaluations?: number): Promise<{ service: Service; roundId: number }> {
  const service = await sampleService();
  const { roundId } = await service.runJob('rounds.draw', {
    from: '2027-01-01',
    to: '2027-12-31',
    seed: 1,
    evaluations,
  });
  return { service, roundId };
}

/** The service over a new, empty book. */
export async function emptyService(): Promise<Service> {
  const file = path.join(temporaryFolder(), 'empty.book');
  await (await createBook(file)).close();
  return serviceOver(file);
}

/** Text as an uploaded file. */
export function upload(name: string, text: string | Uint8Array): { name: string; base64: string } {
  return { name, base64: Buffer.from(text).toString('base64') };
}

/** Loads register text with a style, as the command does. */
export async function loadRegisterText(
  service: Service,
  text: string,
  style: Partial<FileStyle> = {},
  dryRun = false,
): Promise<LoadReport> {
  return service.runJob('register.load', {
    files: [upload('register.csv', text)],
    style: { ...plainFileStyle, ...style },
    dryRun,
  });
}

/** The head of the chain, as `verify` reports it; fails the test when the book is not sound. */
export async function headHash(service: Service): Promise<string> {
  const report = await service.runJob('records.verify', {});
  if (!report.sound) throw new Error(JSON.stringify(report.problems));
  return report.headHash;
}
