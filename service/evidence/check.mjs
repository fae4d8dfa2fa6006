/**
 * Proves an evidence pack with nothing but Node: `node check.mjs [FOLDER]`. Every file's size and SHA-256 against the
 * manifest, the manifest against manifest.sha256, no file more or less, the chain from its first entry to its head, every
 * record against its entry, and the derived figures against the rows. Exit 0 when all holds, 1 when something does not.
 */
import { createHash } from 'node:crypto';
import { createReadStream, existsSync, readFileSync, readdirSync, statSync } from 'node:fs';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';

const MOST = 50;
const GENESIS = '0'.repeat(64);

async function sha256(file) {
  const hash = createHash('sha256');
  for await (const piece of createReadStream(file)) hash.update(piece);
  return hash.digest('hex');
}

/** Rows of a CSV file (RFC 4180) as objects by title, one at a time. */
async function* rowsOf(file) {
  let titles = null;
  let cells = [];
  let cell = '';
  let isQuoted = false;
  let wasQuote = false;
  const end = () => {
    // An apostrophe stands before what a spreadsheet would run.
    cells.push(/^'['=+\-@\t\r]/.test(cell) ? cell.slice(1) : cell);
    cell = '';
  };
  for await (const piece of createReadStream(file, 'utf8'))
    for (const letter of piece) {
      if (isQuoted) {
        if (wasQuote) {
          wasQuote = false;
          if (letter === '"') {
            cell += '"';
            continue;
          }
          isQuoted = false;
        } else if (letter === '"') {
          wasQuote = true;
          continue;
        } else {
          cell += letter;
          continue;
        }
      }
      if (letter === '"' && cell === '') isQuoted = true;
      else if (letter === ',') end();
      else if (letter === '\n') {
        end();
        if (titles === null) titles = cells;
        else yield Object.fromEntries(titles.map((title, index) => [title, cells[index] ?? '']));
        cells = [];
      } else if (letter !== '\r') cell += letter;
    }
}

/** Thousandths of a figure as written; null when it is empty. */
function milli(text) {
  return text === '' ? null : Math.round(Number(text) * 1000);
}

/** Figures in few letters: millions of them have to be held. */
function fingerprint(figures) {
  return createHash('sha256').update(JSON.stringify(figures)).digest('base64url').slice(0, 22);
}

async function checkFiles(folder, manifest, report) {
  const listed = new Set(['manifest.json', 'manifest.sha256']);
  for (const { name, bytes, sha256: wanted } of manifest.files) {
    listed.add(name);
    const file = path.join(folder, name);
    if (path.basename(name) !== name) report(name, 'is no name of a file in this folder');
    else if (!existsSync(file)) report(name, 'is missing');
    else if (statSync(file).size !== bytes)
      report(name, `has ${statSync(file).size} bytes; the manifest says ${bytes}`);
    else if ((await sha256(file)) !== wanted)
      report(name, 'was changed: its SHA-256 is not that of the manifest');
  }
  for (const name of readdirSync(folder)) if (!listed.has(name)) report(name, 'is not in the manifest');
}

/** The chain: answers the records that it holds, by their id, with the figures that the tables repeat. */
async function checkChain(folder, { chain }, report) {
  const held = new Map();
  let [seq, prev] = [0, GENESIS];
  const lines = createInterface({
    input: createReadStream(path.join(folder, 'chain.jsonl'), 'utf8'),
    crlfDelay: Infinity,
  });
  for await (const line of lines) {
    if (line === '') continue;
    const entry = JSON.parse(line);
    seq += 1;
    if (entry.seq !== seq) report('chain.jsonl', `entry ${seq} is missing`);
    if (createHash('sha256').update(`${prev}\n${entry.entry}`, 'utf8').digest('hex') !== entry.hash)
      report('chain.jsonl', `entry ${entry.seq} does not follow from the one before it`);
    prev = entry.hash;
    seq = entry.seq;
    const { kind, content } = JSON.parse(entry.entry);
    if (kind !== 'calibration') continue;
    const { row, readings } = content;
    held.set(
      String(row.id),
      fingerprint([
        entry.hash,
        row.done_on,
        row.outcome,
        row.error_found_milli ?? null,
        row.found_relation ?? null,
        row.error_left_milli ?? null,
        row.left_relation ?? null,
        readings.length,
      ]),
    );
  }
  if (seq !== chain.last) report('chain.jsonl', `ends with entry ${seq}; the manifest says ${chain.last}`);
  if (prev !== chain.head) report('chain.jsonl', 'its head is not that of the manifest');
  return held;
}

async function checkRecords(folder, held, report) {
  const records = new Map();
  for await (const row of rowsOf(path.join(folder, 'calibrations.csv'))) {
    const own = fingerprint([
      row.entry_hash,
      row.observed_on,
      row.outcome,
      milli(row.error_found),
      row.found_relation || null,
      milli(row.error_left),
      row.left_relation || null,
      Number(row.readings),
    ]);
    if (held.get(row.record_id) !== own)
      report('calibrations.csv', `record ${row.record_id} is not what its entry in the chain says`);
    records.set(row.record_id, Number(row.readings));
  }
  const counted = new Map();
  for await (const row of rowsOf(path.join(folder, 'readings.csv')))
    counted.set(row.record_id, (counted.get(row.record_id) ?? 0) + (row.property === '' ? 0 : 1));
  for (const [id, count] of records)
    if (counted.get(id) !== count)
      report(
        'readings.csv',
        `record ${id} has ${counted.get(id) ?? 'no'} readings; calibrations.csv says ${count}`,
      );
  return records.size;
}

/** drift = found - what was left at the visit before, where both are figures and belong to one series; rates a year of 365.25 days. */
async function checkDrift(folder, report) {
  let last = null;
  let count = 0;
  for await (const row of rowsOf(path.join(folder, 'drift.csv'))) {
    const where = `${row.asset} ${row.role || row.test_point} ${row.observed_on}`;
    const [found, left, drift] = [milli(row.error_found), milli(row.error_left), milli(row.drift)];
    const key = `${row.asset} ${row.test_point} ${row.role}`;
    const before = last !== null && last.key === key && last.series === row.series ? last : null;
    if (drift !== null) {
      count += 1;
      if (found === null || row.found_relation !== '=')
        report('drift.csv', `${where}: a drift without a figure found`);
      else if (
        before !== null &&
        before.left !== null &&
        row.reexpressed === '' &&
        before.reexpressed === ''
      ) {
        if (found - before.left !== drift)
          report(
            'drift.csv',
            `${where}: the drift is ${drift / 1000}, its rows give ${(found - before.left) / 1000}`,
          );
        const days = (Date.parse(row.observed_on) - Date.parse(before.on)) / 86_400_000;
        if (Number(row.days) !== days)
          report('drift.csv', `${where}: ${row.days} days, the dates give ${days}`);
        if (row.rate_per_year !== '' && days > 0) {
          const rate = (drift / 1000 / days) * 365.25;
          if (Math.abs(Number(row.rate_per_year) - rate) > 1e-6 * Math.max(1, Math.abs(rate)))
            report('drift.csv', `${where}: the rate is ${row.rate_per_year}, its rows give ${rate}`);
        }
      }
    }
    if (
      found !== null &&
      left !== null &&
      row.adjustment !== '' &&
      row.found_relation === '=' &&
      milli(row.adjustment) !== left - found
    )
      report(
        'drift.csv',
        `${where}: the adjustment is ${row.adjustment}, its rows give ${(left - found) / 1000}`,
      );
    if (found !== null || left !== null)
      last = { key, series: row.series, left, on: row.observed_on, reexpressed: row.reexpressed };
  }
  return count;
}

/** Everything that can be proved of a pack; problems name the file. */
export async function checkPack(folder) {
  const problems = [];
  let more = 0;
  const report = (file, detail) => {
    if (problems.length < MOST) problems.push({ file, detail });
    else more += 1;
  };
  const summary = { sound: false, problems, more: 0, files: 0, records: 0, drifts: 0, head: '', entries: 0 };
  const attempt = async (file, work) => {
    try {
      return await work();
    } catch (error) {
      report(file, `cannot be read: ${error instanceof Error ? error.message : String(error)}`);
      return null;
    }
  };
  const manifest = await attempt('manifest.json', async () => {
    const text = readFileSync(path.join(folder, 'manifest.json'));
    const wanted = readFileSync(path.join(folder, 'manifest.sha256'), 'utf8');
    if (wanted !== `${createHash('sha256').update(text).digest('hex')}  manifest.json\n`)
      report('manifest.json', 'and manifest.sha256 do not belong together: one of them was changed');
    return JSON.parse(text.toString('utf8'));
  });
  if (manifest) {
    summary.files = manifest.files.length;
    summary.head = manifest.chain.head;
    summary.entries = manifest.chain.last;
    await attempt('manifest.json', () => checkFiles(folder, manifest, report));
    const held = await attempt('chain.jsonl', () => checkChain(folder, manifest, report));
    if (held)
      summary.records = (await attempt('calibrations.csv', () => checkRecords(folder, held, report))) ?? 0;
    summary.drifts = (await attempt('drift.csv', () => checkDrift(folder, report))) ?? 0;
  }
  summary.more = more;
  summary.sound = problems.length === 0;
  return summary;
}

if (process.argv[1] && path.resolve(process.argv[1]) === fileURLToPath(import.meta.url)) {
  const folder = process.argv[2] ?? path.dirname(fileURLToPath(import.meta.url));
  const { sound, problems, more, files, records, drifts, head, entries } = await checkPack(folder);
  for (const { file, detail } of problems) console.log(`${file}: ${detail}`);
  if (more > 0) console.log(`and ${more} more`);
  console.log(
    sound
      ? `sound: ${files} files, ${entries} entries, ${records} records and ${drifts} drifts hold; head ${head}`
      : 'NOT SOUND',
  );
  process.exitCode = sound ? 0 : 1;
}
