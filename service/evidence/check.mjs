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

/** Units as the tables write them. */
const units = {
  psi: '[psi]',
  kPa: 'kPa',
  degF: '[degF]',
  degC: 'Cel',
  minutes: 'min',
  seconds: 's',
  percent: '%',
  V: 'V',
  ml: 'mL',
  none: '1',
};
const phases = { found: 'as_found', left: 'as_left', check: 'check', restored: 'restored' };

const numberOf = (...values) => values.find((value) => typeof value === 'number') ?? null;

/** Of an error: a bound says so, a figure does not. */
const relationOf = (error, relation) => (error === '' ? null : relation || '=');

/** What a record was judged by, as its entry keeps it. */
function basisOf(row) {
  const held = JSON.parse(row.snapshot_json);
  const facts = held.facts ?? {};
  const own = facts.points?.find((point) => point.testPointId === row.test_point_id);
  return {
    tag: held.names?.tag ?? null,
    tolerance: numberOf(own?.toleranceMilli, held.toleranceMilli),
    intended: numberOf(facts.dialMilli, held.dialMilli, held.nominalMilli),
  };
}

/** One reading as the chain and the table both can tell it. */
const readingOf = ({ phase, quantity, value, words, unit, state }) =>
  JSON.stringify([phase, quantity, value, words || null, value === null ? null : unit, state || null]);

/** The chain: answers the records that it holds, by their id, with the figures that the tables repeat. */
async function checkChain(folder, { chain }, report) {
  const held = new Map();
  const corrected = new Set();
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
    if (kind === 'correction') corrected.add(String(content.replaced_id));
    if (kind !== 'calibration') continue;
    const { row, readings } = content;
    const { tag, tolerance, intended } = basisOf(row);
    held.set(String(row.id), {
      point: row.test_point_id,
      on: row.done_on,
      isSupplyRight: row.supply_right === 1,
      record: fingerprint([
        entry.hash,
        row.done_on,
        row.outcome,
        row.error_found_milli ?? null,
        row.found_relation ?? null,
        row.verdict_found ?? null,
        row.error_left_milli ?? null,
        row.left_relation ?? null,
        row.verdict_left ?? null,
        row.doubt_milli ?? null,
        row.decision_rule,
        row.method ?? null,
        row.method_version,
        row.supply_right === 1,
        units[row.unit],
        tag,
        tolerance,
        intended,
        readings.length,
      ]),
      readings: fingerprint(
        readings.map((one) =>
          readingOf({
            phase: phases[one.phase] ?? one.phase,
            quantity: one.quantity,
            value: one.value_milli ?? null,
            words: one.value_text,
            unit: units[one.unit],
            state: one.air_state,
          }),
        ),
      ),
    });
  }
  if (chain.first !== (chain.last === 0 ? null : 1)) report('manifest.json', 'the chain begins with entry 1');
  if (seq !== chain.last) report('chain.jsonl', `ends with entry ${seq}; the manifest says ${chain.last}`);
  if (prev !== chain.head) report('chain.jsonl', 'its head is not that of the manifest');
  return { held, corrected };
}

/** Every record is what its entry says, and none of the scope's days and test points is missing. */
async function checkRecords(folder, { scope }, { held, corrected }, report) {
  const records = new Map();
  const points = new Map();
  for await (const row of rowsOf(path.join(folder, 'calibrations.csv'))) {
    const own = held.get(row.record_id);
    const record = fingerprint([
      row.entry_hash,
      row.observed_on,
      row.outcome,
      milli(row.error_found),
      relationOf(row.error_found, row.found_relation),
      row.verdict_found || null,
      milli(row.error_left),
      relationOf(row.error_left, row.left_relation),
      row.verdict_left || null,
      milli(row.doubt_k2),
      row.decision_rule,
      row.method || null,
      row.method_version,
      row.supply_right === 'yes',
      row.value_unit,
      row.recorded_tag || null,
      milli(row.tolerance),
      milli(row.intended_value),
      Number(row.readings),
    ]);
    if (!own || own.record !== record)
      report('calibrations.csv', `record ${row.record_id} is not what its entry in the chain says`);
    if (own) {
      const quality = corrected.has(row.record_id) ? 'retracted' : own.isSupplyRight ? 'ok' : 'suspect';
      if (row.quality !== quality)
        report('calibrations.csv', `record ${row.record_id} is ${quality}, not ${row.quality}`);
      const name = `${row.asset} ${row.test_point} ${row.role}`;
      const before = points.get(own.point) ?? name;
      if (before !== name)
        report(
          'calibrations.csv',
          `record ${row.record_id} stands under ${name}; its test point is ${before}`,
        );
      points.set(own.point, before);
    }
    records.set(row.record_id, {
      asset: row.asset,
      quality: row.quality,
      found: milli(row.error_found),
      left: milli(row.error_left),
    });
  }
  const isWhole = ['building', 'level', 'main', 'class', 'tags'].every((name) => scope[name] === null);
  for (const [id, { on, point }] of held)
    if (
      !records.has(id) &&
      (scope.from === null || on >= scope.from) &&
      (scope.to === null || on <= scope.to) &&
      (isWhole || points.has(point))
    )
      report('calibrations.csv', `record ${id} is in the chain and not here`);
  let [id, found] = ['', []];
  const seen = new Set();
  const end = () => {
    if (id === '') return;
    if (held.get(id)?.readings !== fingerprint(found))
      report('readings.csv', `the readings of record ${id} are not what its entry in the chain says`);
    seen.add(id);
  };
  for await (const row of rowsOf(path.join(folder, 'readings.csv'))) {
    if (row.record_id !== id) {
      end();
      [id, found] = [row.record_id, []];
    }
    const record = records.get(id);
    if (id !== '' && (record?.asset !== row.asset || record?.quality !== row.quality))
      report('readings.csv', `record ${id} is told otherwise in calibrations.csv`);
    if (id !== '' && row.property !== '')
      found.push(
        readingOf({
          phase: row.phase,
          quantity: row.quantity,
          value: milli(row.value),
          words: row.text_value,
          unit: row.unit || null,
          state: row.air_state,
        }),
      );
  }
  end();
  for (const own of records.keys())
    if (!seen.has(own)) report('readings.csv', `record ${own} of calibrations.csv is not here`);
  return records;
}

/** Each table has the rows that the manifest says. */
async function checkRows(folder, manifest, report) {
  for (const { name, rows } of manifest.files) {
    const isHere = path.basename(name) === name && existsSync(path.join(folder, name));
    if (rows === null || !name.endsWith('.csv') || !isHere) continue;
    let count = 0;
    for await (const row of rowsOf(path.join(folder, name))) count += row ? 1 : 0;
    if (count !== rows) report(name, `has ${count} rows; the manifest says ${rows}`);
  }
}

/** drift = found - what was left at the visit before, where both are figures and belong to one series; rates a year of 365.25 days. */
async function checkDrift(folder, { scope }, records, report) {
  let last = null;
  let count = 0;
  const told = new Set();
  for await (const row of rowsOf(path.join(folder, 'drift.csv'))) {
    const where = `${row.asset} ${row.role || row.test_point} ${row.observed_on}`;
    const isFigure = relationOf(row.error_found, row.found_relation) === '=';
    const record = records.get(row.record_id);
    told.add(row.record_id);
    if (!record || record.asset !== row.asset || record.quality === 'retracted')
      report('drift.csv', `${where}: record ${row.record_id} is not one that counts in calibrations.csv`);
    else if (
      row.reexpressed === '' &&
      (record.found !== milli(row.error_found) ||
        (row.error_left !== '' && record.left !== milli(row.error_left)))
    )
      report('drift.csv', `${where}: its errors are not those of record ${row.record_id}`);
    const [found, left, drift] = [milli(row.error_found), milli(row.error_left), milli(row.drift)];
    const key = `${row.asset} ${row.test_point} ${row.role}`;
    const before = last !== null && last.key === key && last.series === row.series ? last : null;
    if (drift === null && isFigure && before !== null && before.left !== null)
      report('drift.csv', `${where}: its drift is missing`);
    if (drift !== null) {
      count += 1;
      if (!isFigure) report('drift.csv', `${where}: a drift without a figure found`);
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
    if (isFigure && left !== null && row.adjustment !== '' && milli(row.adjustment) !== left - found)
      report(
        'drift.csv',
        `${where}: the adjustment is ${row.adjustment}, its rows give ${(left - found) / 1000}`,
      );
    if (found !== null || left !== null)
      last = { key, series: row.series, left, on: row.observed_on, reexpressed: row.reexpressed };
  }
  for (const [id, { quality, found, left }] of records)
    if (quality !== 'retracted' && (found !== null || left !== null) && !told.has(id))
      report(
        'drift.csv',
        `record ${id} is not here${scope.from === null ? '' : ', though its day is in the scope'}`,
      );
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
    await attempt('manifest.json', () => checkRows(folder, manifest, report));
    const chain = await attempt('chain.jsonl', () => checkChain(folder, manifest, report));
    const records =
      chain && (await attempt('calibrations.csv', () => checkRecords(folder, manifest, chain, report)));
    if (records) {
      summary.records = records.size;
      summary.drifts = (await attempt('drift.csv', () => checkDrift(folder, manifest, records, report))) ?? 0;
    }
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
