/** The command line as a person runs it: its own process, its own exit code. */
import { spawn, spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { checkAssignment, checkVisits } from '../../shared/planning/check.ts';
import { sampleFile, temporaryFolder } from '../support/books.ts';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../..');

function almanac(...args: string[]): { status: number | null; stdout: string; stderr: string } {
  return spawnSync(process.execPath, ['host/cli.ts', ...args], {
    cwd: root,
    encoding: 'utf8',
    maxBuffer: 64 * 1024 * 1024,
  });
}

function json(...args: string[]): Record<string, never> {
  const result = almanac(...args, '--json');
  expect([result.status, result.stderr]).toEqual([0, '']);
  return JSON.parse(result.stdout);
}

describe('the commands on the sample site', () => {
  it('sample, due, round draw, round show, round instance, drift, verify', () => {
    const file = path.join(temporaryFolder(), 's.book');
    expect(json('sample', file)).toMatchObject({ devices: expect.any(Number) });
    const due = json('due', '--book', file, '--on', '2027-03-01') as never as {
      late: number;
      rows: { tag: string; daysLate: number }[];
    };
    expect(due.rows.filter((row) => row.daysLate > 0).length).toBe(due.late);
    json('round', 'draw', '--from', '2027-01-01', '--to', '2027-12-31', '--book', file);
    const show = json('round', 'show', '--book', file) as never as {
      assignment: never;
      visits: {
        date: string;
        shift: string;
        person: string;
        order: number;
        tasks: { tag: string; kind: string; minutes: number }[];
      }[];
    };
    const instance = json('round', 'instance', '--book', file) as never as {
      tasks: { id: string }[];
      slots: { date: string; shift: string }[];
    };
    expect(checkAssignment(instance as never, show.assignment)).toEqual([]);
    const visits = show.visits.map((visit) => ({
      slot: instance.slots.findIndex((slot) => slot.date === visit.date && slot.shift === visit.shift),
      crew: visit.person,
      order: visit.order,
      building: null,
      floor: null,
      room: (visit as never as { room: string | null }).room,
      main: (visit as never as { main: string | null }).main,
      state:
        (visit as never as { airState: string | null }).airState === null
          ? null
          : (visit as never as { airState: string }).airState === 'high'
            ? ('H' as const)
            : ('L' as const),
      tasks: visit.tasks.map((task) => (task as never as { id: string }).id),
    }));
    expect(checkVisits(instance as never, show.assignment, visits)).toEqual([]);
    const drift = json('drift', 'TC-N1-01', '--role', 'occupied', '--book', file) as never as {
      series: { points: unknown[] }[];
    };
    expect([drift.series.length, drift.series[0].points.length]).toEqual([1, 8]);
    expect(json('verify', '--book', file)).toMatchObject({ sound: true });
  });

  it('a bare instance is solved, with a byte order mark too; a move off is priced and made', () => {
    const folder = temporaryFolder();
    const bare = path.join(folder, 'bare.json');
    const tasks = [{ id: 'a', min: 10, due: 0 }];
    writeFileSync(
      bare,
      `\uFEFF${JSON.stringify({ slots: [{ day: 0 }], crews: [{ id: 'A', regular: [60] }], tasks })}`,
    );
    expect(json('round', 'solve', bare)).toMatchObject({
      assignment: { a: { slot: 0, crew: 'A' } },
      total: 0,
    });
    const file = path.join(folder, 'off.book');
    json('sample', file);
    json('round', 'draw', '--from', '2027-01-01', '--to', '2027-12-31', '--book', file);
    const priced = json('round', 'move', 'TC-E1-03/occupied', '--off', '--book', file);
    expect(priced).toMatchObject({ breaches: [], applied: false, after: null });
    expect(json('round', 'move', 'TC-E1-03/occupied', '--off', '--apply', '--book', file)).toMatchObject({
      applied: true,
      difference: priced.difference,
    });
  });

  it('text for people says the same', () => {
    const file = sampleFile();
    expect(almanac('due', '--book', file, '--on', '2027-01-01').stdout).toMatch(
      /^On 2027-01-01: \d+ late, \d+ due in 30 days/,
    );
    expect(almanac('verify', '--book', file).stdout).toMatch(/^sound: \d+ entries/);
    expect(almanac('--help').stdout).toContain('register load');
  });
});

describe('exit codes and messages', () => {
  it('2 and file, line, column, value, reason for bad input; the book unchanged', () => {
    const file = sampleFile();
    const before = json('verify', '--book', file);
    const csv = path.join(path.dirname(file), 'bad.csv');
    writeFileSync(csv, 'class,tag,low_pressure\nmain,HM-N,abc\n');
    const result = almanac('register', 'load', csv, '--book', file);
    expect([result.status, result.stderr]).toEqual([
      2,
      expect.stringContaining('bad.csv, line 2, column low_pressure: “abc”: not a number'),
    ]);
    expect(json('verify', '--book', file)).toEqual(before);
  });
  it.each([
    ['an unknown command', ['fly'], 'no command'],
    ['an unknown option', ['due', '--fast'], 'no option --fast'],
    ['a missing book', ['due'], '--book'],
    ['a book that is not there', ['due', '--book', '/nowhere/x.book'], 'no file'],
    ['a bad date', ['due', '--on', '2026-02-30', '--book', 'BOOK'], '2026-02-30'],
    ['a tag that is not there', ['drift', 'NOPE', '--book', 'BOOK'], 'NOPE'],
    ['a file that is not there', ['register', 'load', '/nowhere/x.csv', '--book', 'BOOK'], 'no such file'],
    ['no round yet', ['round', 'show', '--book', 'BOOK'], 'No round has been drawn'],
    [
      'an option value that is none',
      ['register', 'load', 'x.csv', '--pressure', 'bar', '--book', 'BOOK'],
      'not one of: psi, kPa',
    ],
  ])('2 for %s', (_words, args, message) => {
    const file = args.includes('BOOK') ? sampleFile() : '';
    const result = almanac(...args.map((arg) => (arg === 'BOOK' ? file : arg)));
    expect([result.status, result.stderr]).toEqual([2, expect.stringContaining(message)]);
  });
  it('errors are JSON too when asked for', () => {
    const result = almanac('drift', 'NOPE', '--book', sampleFile(), '--json');
    expect([result.status, JSON.parse(result.stdout)]).toEqual([
      2,
      { error: { code: 'not_found', message: expect.any(String) } },
    ]);
  });
  it('1 when a book is not sound', () => {
    const file = sampleFile();
    const script = `const D=require('better-sqlite3');const d=new D(process.argv[1]);d.exec('drop trigger reading_never_updated');d.close()`;
    spawnSync(process.execPath, ['-e', script, file], { cwd: root });
    expect(almanac('verify', '--book', file)).toMatchObject({
      status: 1,
      stdout: expect.stringContaining('NOT SOUND'),
    });
  });
  it('never writes over a file', () => {
    const file = sampleFile();
    const out = path.join(path.dirname(file), 'out.csv');
    writeFileSync(out, 'mine');
    expect(almanac('register', 'export', '--out', out, '--book', file).status).toBe(2);
    expect(almanac('backup', out, '--book', file).status).toBe(2);
    expect(almanac('sample', file).status).toBe(2);
    expect(readFileSync(out, 'utf8')).toBe('mine');
  });
  it('backs up and restores', () => {
    const file = sampleFile();
    const folder = path.dirname(file);
    expect(almanac('backup', path.join(folder, 'b.book'), '--book', file).status).toBe(0);
    expect(almanac('restore', path.join(folder, 'b.book'), '--to', path.join(folder, 'r.book')).status).toBe(
      0,
    );
    expect(json('verify', '--book', path.join(folder, 'r.book'))).toEqual(json('verify', '--book', file));
  });
});

describe('an anchor', () => {
  it('is written once, proves what lies before it, and finds a chain that was made anew', () => {
    const file = sampleFile();
    const anchor = path.join(path.dirname(file), 'anchor.json');
    expect(almanac('anchor', anchor, '--book', file).status).toBe(0);
    expect(almanac('anchor', anchor, '--book', file).status).not.toBe(0);
    const good = almanac('verify', '--anchor', anchor, '--book', file);
    expect([good.status, good.stdout.includes('was changed since the anchor')]).toEqual([0, true]);
    const other = path.join(path.dirname(file), 'other.json');
    const held = JSON.parse(readFileSync(anchor, 'utf8')) as { headHash: string };
    writeFileSync(other, JSON.stringify({ ...held, headHash: 'f'.repeat(64) }));
    const bad = almanac('verify', '--anchor', other, '--book', file);
    expect([bad.status, bad.stdout.includes('first bad entry')]).toEqual([1, true]);
    writeFileSync(other, '{"format":"something else"}');
    expect(almanac('verify', '--anchor', other, '--book', file).status).toBe(2);
    expect(almanac('verify', '--anchor', `${other}x`, '--book', file).status).toBe(2);
  });
});

describe('a kill', () => {
  it('right after an acknowledged reading loses nothing, and the chain is whole', async () => {
    const file = path.join(temporaryFolder(), 'k.book');
    copyFileSync(sampleFile(), file);
    for (let round = 0; round < 5; round += 1) {
      const child = spawn(process.execPath, ['tests/support/closeCards.ts', file, String(round)], {
        cwd: root,
        stdio: ['ignore', 'pipe', 'inherit'],
      });
      const acknowledged: number[] = [];
      const exited = new Promise<void>((resolve) => {
        child.on('exit', () => resolve());
      });
      let text = '';
      for await (const chunk of child.stdout) {
        text += String(chunk);
        const ids = text.split('\n').filter((line) => line !== '');
        acknowledged.splice(
          0,
          acknowledged.length,
          ...ids.slice(0, text.endsWith('\n') ? undefined : -1).map(Number),
        );
        if (acknowledged.length > round * 2) {
          child.kill('SIGKILL');
          break;
        }
      }
      await exited;
      expect(acknowledged.length).toBeGreaterThan(round * 2);
      const report = json('verify', '--book', file) as never as { sound: boolean };
      expect(report.sound).toBe(true);
      const script = `const D=require('better-sqlite3');const d=new D(process.argv[1]);console.log(d.prepare('select count(*) n from calibration where id in (${acknowledged.join(',')})').get().n)`;
      expect(
        Number(spawnSync(process.execPath, ['-e', script, file], { cwd: root, encoding: 'utf8' }).stdout),
      ).toBe(acknowledged.length);
    }
    expect(existsSync(file)).toBe(true);
  });
});
