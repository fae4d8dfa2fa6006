/** Makes the sample book once for a whole run; tests copy it. */
import { mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import type { TestProject } from 'vitest/node';
import { createSampleBook } from '../../service/sample/createSample.ts';

declare module 'vitest' {
  export interface ProvidedContext {
    sampleFile: string;
  }
}

export async function setup(project: TestProject): Promise<() => void> {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-sample-'));
  const file = path.join(folder, 'sample.book');
  await createSampleBook(file);
  project.provide('sampleFile', file);
  return () => rmSync(folder, { recursive: true });
}
