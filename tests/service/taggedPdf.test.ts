/** The structure of a PDF as another program (poppler) reads it. */
import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import type { Content } from 'pdfmake/interfaces.js';
import { expect, it } from 'vitest';
import { renderPdf, renderTaggedPdf } from '../../service/pdf/renderPdf.ts';
import { temporaryFolder } from '../support/books.ts';

const rows = Array.from({ length: 120 }, (_, row) => [`tag ${row}`, row % 3 === 0 ? '' : `${row} psi`]);
const document = (): { content: Content[]; footer: (page: number) => Content } => ({
  content: [
    { text: 'What was read', headlineLevel: 0 },
    { text: 'On one day', headlineLevel: 1 },
    'A paragraph that stands alone.',
    { ul: ['the first point', 'the second point'] },
    { table: { headerRows: 1, body: [['device', 'pressure'], ...rows] } },
  ],
  footer: (page) => `page ${page}`,
});

function read(pdf: Uint8Array, ...options: string[]): string {
  const file = path.join(temporaryFolder(), 'one.pdf');
  writeFileSync(file, pdf);
  return execFileSync('/usr/bin/pdfinfo', [...options, file], { encoding: 'utf8' });
}

it('is told in the order of reading: headings, lists, every cell; heads once, feet and rules not at all', async () => {
  const pdf = await renderTaggedPdf(document());
  expect(read(pdf)).toMatch(/Tagged:\s+yes/u);
  expect(Number(/Pages:\s+(\d+)/u.exec(read(pdf))?.[1])).toBeGreaterThan(2);
  const told = read(pdf, '-struct-text')
    .split('\n')
    .map((line) => line.trim().replace(/ \(block\)$/u, ''))
    .filter((line) => line !== '' && !line.startsWith('/'));
  const head = ['TR', 'TH:', '"device"', 'TH:', '"pressure"'];
  const list = ['first', 'second'].flatMap((word) => ['LI', 'LBody', `"the ${word} point"`]);
  const body = rows.flatMap(([tag, value]) => ['TR', 'TD', `"${tag}"`, 'TD', `"${value}"`]);
  expect(told).toEqual([
    'Document',
    'H1',
    '"What was read"',
    'H2',
    '"On one day"',
    'P',
    '"A paragraph that stands alone."',
    'L',
    ...list,
    'Table',
    ...head,
    ...body,
  ]);
});

it('is the same twice, and leaves documents without structure as they are', async () => {
  const info = { creationDate: new Date(0), modDate: new Date(0) };
  const [one, other] = [
    await renderTaggedPdf({ ...document(), info }),
    await renderTaggedPdf({ ...document(), info }),
  ];
  expect(Buffer.from(one).equals(Buffer.from(other))).toBe(true);
  expect(read(await renderPdf(document()))).toMatch(/Tagged:\s+no/u);
});

it('refuses what it has no structure for', async () => {
  await expect(renderTaggedPdf({ content: [{ qr: 'a code' }] })).rejects.toThrow('texts, lists and tables');
});
