import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { readingsDocument, registerDocument } from '../../scripts/docs.ts';

const read = (name: string): string => readFileSync(new URL(`../../docs/${name}`, import.meta.url), 'utf8');

it('the documented columns are those that files are read by', () =>
  expect([read('register-csv.md'), read('readings-csv.md')]).toEqual([
    registerDocument(),
    readingsDocument(),
  ]));
