/**
 * Proves an evidence pack with nothing but Node: `node check.mjs [FOLDER]`. Every file's size and SHA-256 against the
 * manifest, the manifest against manifest.sha256, no file more or less, the chain from its first entry to its head, every
 * record against its entry, and the derived figures against the rows. Exit 0 when all holds, 1 when something does not.
 */
import { createHash } from 'node:crypto';
import { createReadStream, existsSync, readFileSync, readdirSync, statSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const MOST = 50;
const GENESIS = '0'.repeat(64);

async function sha256(file) {
  const hash = createHash('sha256');
  for await (const piece of createReadStream(file)) hash.update(piece);
  return hash.digest('hex');
}

/** What calibrations.csv says of a record, and readings.csv again on each of its rows. */
const OF_RECORD = [
  'record_id',
  'sequence',
  'site',
  'building',
  'level',
  'room',
  'main',
  'asset',
  'test_point',
  'role',
  'observed_on',
  'observed_at',
  'tz',
  'visit',
  'recorded_at',
  'person',
  'outcome',
  'error_unit',
  'error_found',
  'found_relation',
  'verdict_found',
  'error_left',
  'left_relation',
  'verdict_left',
  'tolerance',
  'doubt_k2',
  'decision_rule',
  'method',
  'method_version',
  'supply_right',
  'pressure_gauge',
  'temperature_gauge',
  'intended_value',
  'intended_since',
  'value_unit',
  'pressure_unit',
  'action',
  'throttling_range',
  'output_low',
  'output_high',
  'calibration_pressure',
  'repaired',
  'replaced',
  'quality',
  'quality_note',
  'supersedes',
  'superseded_by',
];
/** What stands in calibrations.csv alone. */
const ALONE = [
  'entry_hash',
  'recorded_tag',
  'recorded_person',
  'started_at',
  'source',
  'conformance_found_ppm',
  'conformance_left_ppm',
  'doubt_left_k2',
  'readings',
  'correction_reason',
  'note',
];
/** What readings.csv says of a reading. */
const OF_READING = [
  'reading_id',
  'phase',
  'property',
  'quantity',
  'value',
  'text_value',
  'unit',
  'pressure_ref',
  'air_state',
  'error',
  'pass',
  'instrument',
  'instrument_cal_due',
];
/** Titles of the tables that are proved cell by cell: there are no others. */
const COLUMNS = {
  'calibrations.csv': [...OF_RECORD, ...ALONE],
  'readings.csv': [...OF_READING, ...OF_RECORD],
  'drift.csv': [
    'asset',
    'test_point',
    'role',
    'record_id',
    'observed_on',
    'unit',
    'series',
    'event',
    'supply_flagged',
    'reexpressed',
    'error_found',
    'found_relation',
    'error_left',
    'carried',
    'adjustment',
    'days',
    'drift',
    'rate_per_year',
    'unadjusted',
  ],
};

/** Lines of a file, ended by \n and by nothing else: a note may hold any other mark of a new line. */
async function* linesOf(file, mustEnd = false) {
  let rest = '';
  for await (const piece of createReadStream(file, { encoding: 'utf8', highWaterMark: 1 << 18 })) {
    const lines = (rest + piece).split('\n');
    rest = lines.pop() ?? '';
    yield* lines;
  }
  if (rest !== '' && mustEnd) throw new Error('it ends in the middle of a row');
  if (rest !== '') yield rest;
}

/** Cells of a record of which some are quoted. */
function quotedCells(record) {
  const cells = [];
  let cell = '';
  let isQuoted = false;
  for (let at = 0; at < record.length; at += 1) {
    const letter = record[at];
    if (isQuoted && letter === '"' && record[at + 1] === '"') {
      cell += letter;
      at += 1;
    } else if (letter === '"' && (isQuoted || cell === '')) isQuoted = !isQuoted;
    else if (letter === ',' && !isQuoted) {
      cells.push(cell);
      cell = '';
    } else cell += letter;
  }
  return [...cells, cell];
}

/** What is quoted ends before so many letters: memory has an end, too. */
const MOST_LETTERS = 64_000_000;

/** Records of a CSV file as text, with whether anything in them is quoted: that may hold ends of lines. */
async function* recordsOf(file) {
  let begun = [];
  let [isOpen, letters] = [false, 0];
  for await (const line of linesOf(file, true)) {
    const hasQuotes = line.includes('"');
    if (!isOpen && !hasQuotes) {
      yield { record: line, hasQuotes };
      continue;
    }
    begun.push(line);
    letters += line.length + 1;
    if (hasQuotes && line.split('"').length % 2 === 0) isOpen = !isOpen;
    if (isOpen && letters > MOST_LETTERS) throw new Error('a quote is never closed');
    if (isOpen) continue;
    yield { record: begun.join('\n'), hasQuotes: true };
    [begun, letters] = [[], 0];
  }
  if (isOpen) throw new Error('it ends in the middle of a row');
}

/** A cell without the apostrophe that stands before what a spreadsheet would run, and before nothing else. */
const withoutGuard = (cell) => (/^'(?!-?\d+(\.\d+)?$)['=+\-@\t\r]/.test(cell) ? cell.slice(1) : cell);

/** Rows of a CSV file (RFC 4180) as objects by title, one at a time; at its end how many there were goes into `counts`. */
export async function* rowsOf(file, counts = new Map()) {
  const wanted = COLUMNS[path.basename(file)];
  let titles = null;
  let count = 0;
  for await (const { record, hasQuotes } of recordsOf(file)) {
    const line = record.endsWith('\r') ? record.slice(0, -1) : record;
    const cells = hasQuotes ? quotedCells(line) : line.split(',');
    if (titles === null) {
      titles = cells;
      if (new Set(titles).size < titles.length) throw new Error('a title stands twice');
      if (wanted && (titles.length !== wanted.length || titles.some((one, at) => one !== wanted[at])))
        throw new Error(`its titles are not ${wanted.join(', ')}`);
      continue;
    }
    if (cells.length !== titles.length)
      throw new Error(`a row has ${cells.length} cells, the titles are ${titles.length}`);
    const row = Object.create(null);
    for (const [at, title] of titles.entries()) row[title] = withoutGuard(cells[at]);
    count += 1;
    yield row;
  }
  if (titles === null && wanted) throw new Error('it has no titles');
  counts.set(path.basename(file), count);
}

/** A figure as the program writes it; null when it is empty, the text itself where it is written otherwise. */
function figure(text) {
  const value = Number(text);
  return text === '' ? null : Number.isFinite(value) && String(value) === text ? value : text;
}

/** Thousandths of a figure as written. */
function milli(text) {
  const value = figure(text);
  if (typeof value !== 'number') return value;
  const whole = Math.round(value * 1000);
  // What has more digits than are kept was not written by the program.
  return whole / 1000 === value ? whole : text;
}

/** Figures in sixteen bytes: millions of them have to be held. */
function fingerprint(figures) {
  return createHash('sha256').update(JSON.stringify(figures)).digest().latin1Slice(0, 16);
}

/** Holds what is the same once. */
function keeper() {
  const kept = new Map();
  return (value) => {
    const words = JSON.stringify(value);
    if (!kept.has(words)) kept.set(words, value);
    return kept.get(words);
  };
}

/** What every pack holds. */
const NAMES = [
  'readings.csv',
  'calibrations.csv',
  'drift.csv',
  'series.csv',
  'register.csv',
  'assets.csv',
  'setpoints.csv',
  'events.csv',
  'leaks.csv',
  'air_station.csv',
  'energy_ranking.csv',
  'energy.csv',
  'actuators.csv',
  'retrofit.csv',
  'book.json',
  'terms.json',
  'chain.jsonl',
  'check.mjs',
  'register.xlsx',
  'report.pdf',
];

async function checkFiles(folder, manifest, report) {
  const listed = new Set(['manifest.json', 'manifest.sha256']);
  for (const { name, bytes, sha256: wanted } of manifest.files) {
    if (listed.has(name)) report(name, 'stands twice in the manifest');
    listed.add(name);
    const file = path.join(folder, name);
    if (path.basename(name) !== name) report(name, 'is no name of a file in this folder');
    else if (!existsSync(file)) report(name, 'is missing');
    else if (statSync(file).size !== bytes)
      report(name, `has ${statSync(file).size} bytes; the manifest says ${bytes}`);
    else if ((await sha256(file)) !== wanted)
      report(name, 'was changed: its SHA-256 is not that of the manifest');
  }
  for (const name of NAMES) if (!listed.has(name)) report(name, 'is not in the manifest; every pack has it');
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
const passes = { inside: 'true', 'inside, in doubt': 'true', 'outside, in doubt': 'false', outside: 'false' };
const isPressure = (unit) => unit === '[psi]' || unit === 'kPa';
const isScale = (unit) => unit === '[degF]' || unit === 'Cel' || unit === '%';

const numberOf = (...values) => values.find((value) => typeof value === 'number') ?? null;
const textOf = (...values) => values.find((value) => typeof value === 'string') ?? null;
/** Of an error: a bound says so, a figure does not. */
const boundOf = (relation) => (relation == null || relation === '=' ? '' : relation);

/** What calibrations.csv says of a record and its entry says too: column, of the entry, of the cell. */
const asText = (cell) => cell || null;
const recordFacts = [
  ['entry_hash', ({ hash }) => hash, asText],
  ['sequence', ({ seq }) => seq, figure],
  ['observed_on', ({ row }) => row.done_on, asText],
  ['observed_at', ({ row }) => row.started_at ?? null, asText],
  ['started_at', ({ row }) => row.started_at ?? null, asText],
  ['visit', ({ row }) => (row.card_id == null ? null : String(row.card_id)), asText],
  ['recorded_at', ({ row }) => row.ended_at, asText],
  ['outcome', ({ row }) => row.outcome, asText],
  ['source', ({ row }) => row.source, asText],
  ['error_unit', ({ row }) => (row.unit === 'degC' ? 'K' : units[row.unit]), asText],
  ['value_unit', ({ row }) => units[row.unit], asText],
  ['error_found', ({ row }) => row.error_found_milli ?? null, milli],
  ['verdict_found', ({ row }) => row.verdict_found ?? null, asText],
  ['found_relation', ({ row }) => boundOf(row.found_relation) || null, asText],
  ['error_left', ({ row }) => row.error_left_milli ?? null, milli],
  ['left_relation', ({ row }) => boundOf(row.left_relation) || null, asText],
  ['verdict_left', ({ row }) => row.verdict_left ?? null, asText],
  ['conformance_found_ppm', ({ row }) => row.conformance_found_ppm ?? null, figure],
  ['conformance_left_ppm', ({ row }) => row.conformance_left_ppm ?? null, figure],
  ['doubt_k2', ({ row }) => row.doubt_milli ?? null, milli],
  ['doubt_left_k2', ({ row }) => row.doubt_left_milli ?? null, milli],
  ['decision_rule', ({ row }) => row.decision_rule, asText],
  ['method', ({ row }) => row.method ?? null, asText],
  ['method_version', ({ row }) => row.method_version, asText],
  ['supply_right', ({ row }) => (row.supply_right === 1 ? 'yes' : 'no'), asText],
  ['tolerance', ({ basis }) => basis.tolerance, milli],
  ['intended_value', ({ basis }) => basis.intended, milli],
  ['action', ({ basis }) => basis.action, asText],
  ['throttling_range', ({ basis }) => basis.range, milli],
  ['output_low', ({ basis }) => basis.low, milli],
  ['output_high', ({ basis }) => basis.high, milli],
  ['calibration_pressure', ({ basis }) => basis.pressure, milli],
  ['repaired', ({ basis }) => (basis.isRepaired ? 'yes' : null), asText],
  ['recorded_tag', ({ names }) => names?.tag ?? null, asText],
  ['recorded_person', ({ names }) => names?.initials ?? null, asText],
  ['test_point', ({ names }) => names?.kind ?? null, asText],
  ['role', ({ names }) => names?.role || null, asText],
  ['readings', ({ readings }) => readings.length, figure],
  ['note', ({ row }) => row.note || null, asText],
];

/** What an error refers to; one with a part missing says nothing of it. */
const basisOf = ({ action, range, low, high, pressure }) =>
  [action, range, low, high, pressure].includes(null)
    ? null
    : { action, pressure, gain: (high - low) / range };

/** Ways of reading that say how an error is told on another basis. */
const methods = ['M1', 'M3'];

/** What a record was judged by, as its entry keeps it. */
function entryOf(seq, hash, { row, readings }) {
  const held = JSON.parse(row.snapshot_json);
  const facts = held.facts ?? {};
  const own = facts.points?.find((point) => point.testPointId === row.test_point_id);
  const names = held.names ?? null;
  return {
    seq,
    hash,
    row,
    readings,
    names,
    basis: {
      tolerance: numberOf(own?.toleranceMilli, held.toleranceMilli),
      intended: numberOf(facts.dialMilli, held.dialMilli, held.nominalMilli),
      action: textOf(facts.action, held.action),
      range: numberOf(facts.throttlingRangeMilli, held.throttlingRangeMilli),
      low: numberOf(facts.outputLowMilli, held.outputLowMilli),
      high: numberOf(facts.outputHighMilli, held.outputHighMilli),
      pressure: numberOf(facts.calibrationPressureMilli, held.calibrationPressureMilli),
      isRepaired: held.ticks?.repaired === true,
    },
  };
}

/** One reading as the chain and the table both can tell it. */
const readingOf = (one) =>
  JSON.stringify([
    one.phase,
    one.quantity,
    one.value,
    one.words || null,
    one.unit,
    one.state || null,
    one.ref,
    one.instrument,
  ]);

const gaugesOf = (row) => [row.pressure_gauge_id ?? null, row.temperature_gauge_id ?? null];

/** Which of a record's two instruments a reading was taken with: 0 of pressures, 1 of its scale; null without one. */
function instrumentOf(unit, [pressure, scale]) {
  if (isPressure(unit)) return pressure === null ? null : 0;
  if (!isScale(unit) || scale === null) return null;
  return scale === pressure ? 0 : 1;
}

/** The name of a reading: of its record's entry and its place in it (RFC 9562, version 8). */
function readingId(hash, position) {
  const digest = createHash('sha256').update(`${hash} ${position}`).digest();
  digest[6] = (digest[6] & 0x0f) | 0x80;
  digest[8] = (digest[8] & 0x3f) | 0x80;
  const hex = digest.toString('hex');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20, 32)].join(
    '-',
  );
}

const add = (map, key, value) => {
  const own = map.get(key);
  if (own) own.push(value);
  else map.set(key, [value]);
};

/** The chain: its links, and what it holds of records, replacements, corrections, certificates and tags. */
async function checkChain(folder, { chain }, report) {
  const book = {
    /** By the record's id. */
    held: new Map(),
    /** Corrected record to the one in its place, and back. */
    correctedBy: new Map(),
    corrects: new Map(),
    /** Days and reasons by device. */
    replaced: new Map(),
    /** By gauge, in the order of the chain. */
    certificates: new Map(),
    /** Newest tag by device. */
    tags: new Map(),
  };
  const once = keeper();
  let [seq, prev] = [0, GENESIS];
  for await (const line of linesOf(path.join(folder, 'chain.jsonl'))) {
    const entry = JSON.parse(line);
    seq += 1;
    // As it is written, and no key twice: another reader takes the other one.
    if (Object.keys(entry).join() !== 'seq,record,entry,hash' || JSON.stringify(entry) !== line)
      report('chain.jsonl', `entry ${seq} is not of the form that it has`);
    if (entry.seq !== seq) report('chain.jsonl', `entry ${seq} is missing`);
    if (createHash('sha256').update(`${prev}\n${entry.entry}`, 'utf8').digest('hex') !== entry.hash)
      report('chain.jsonl', `entry ${entry.seq} does not follow from the one before it`);
    prev = entry.hash;
    seq = entry.seq;
    const { kind, content } = JSON.parse(entry.entry);
    if (kind === 'correction') {
      book.correctedBy.set(String(content.replaced_id), {
        id: String(content.replacement_id),
        why: content.reason,
      });
      book.corrects.set(String(content.replacement_id), {
        id: String(content.replaced_id),
        why: content.reason,
      });
    } else if (kind === 'replacement')
      add(book.replaced, content.device_id, { on: content.on_date, reason: content.reason });
    else if (kind === 'certificate')
      add(book.certificates, content.gauge_id, { issued: content.issued_on, due: content.due_on });
    else if (kind === 'setting change' && content?.what === 'tag' && content.device_id != null)
      book.tags.set(content.device_id, content.to_value);
    else if (kind === 'calibration') {
      const own = entryOf(seq, entry.hash, content);
      const { row, readings, names } = own;
      if (entry.record !== row.id) report('chain.jsonl', `entry ${seq} is not of record ${entry.record}`);
      if (names) book.tags.set(names.deviceId, names.tag);
      const isBound = row.found_relation != null && row.found_relation !== '=';
      const found = row.found_relation == null ? null : (row.error_found_milli ?? null);
      const id = String(row.id);
      book.held.set(id, {
        id,
        hash: entry.hash,
        point: row.test_point_id,
        device: names?.deviceId ?? null,
        on: row.done_on,
        isSupplyRight: row.supply_right === 1,
        isRepaired: own.basis.isRepaired,
        basis: once(basisOf(own.basis)),
        method: methods.find((one) => one === row.method) ?? null,
        found,
        isFigure: row.found_relation === '=' && found !== null,
        bound: found === null ? '' : boundOf(row.found_relation),
        left: row.left_relation === '=' ? (row.error_left_milli ?? null) : null,
        isLeftAsBound:
          isBound &&
          row.outcome !== 'adjusted' &&
          (row.left_relation == null || row.error_left_milli === row.error_found_milli),
        person: row.person_id,
        gauges: once(gaugesOf(row)),
        facts: fingerprint(recordFacts.map(([, ofEntry]) => ofEntry(own))),
        readings: fingerprint(
          readings.map((one) =>
            readingOf({
              phase: phases[one.phase] ?? one.phase,
              quantity: one.quantity,
              value: one.value_milli ?? null,
              words: one.value_text,
              unit: one.value_milli == null ? '' : units[one.unit],
              state: one.air_state,
              ref: isPressure(units[one.unit]) ? 'gauge' : '',
              instrument: instrumentOf(units[one.unit], gaugesOf(row)),
            }),
          ),
        ),
      });
    }
  }
  if (chain.first !== (chain.last === 0 ? null : 1)) report('manifest.json', 'the chain begins with entry 1');
  if (seq !== chain.last) report('chain.jsonl', `ends with entry ${seq}; the manifest says ${chain.last}`);
  if (prev !== chain.head) report('chain.jsonl', 'its head is not that of the manifest');
  for (const own of book.certificates.values())
    own.sort((a, b) => (a.issued < b.issued ? -1 : a.issued > b.issued ? 1 : 0));
  return book;
}

/** One of one kind belongs to one of the other, and back: what stands under another name was moved. */
function pairs() {
  const [there, back] = [new Map(), new Map()];
  return {
    there,
    isPair: (one, other) => {
      if (!there.has(one)) there.set(one, other);
      if (!back.has(other)) back.set(other, one);
      return there.get(one) === other && back.get(other) === one;
    },
  };
}

const isReplacedOn = ({ replaced }, device, on) => (replaced.get(device) ?? []).some((one) => one.on === on);
const isInDays = ({ from, to }, on) => (from === null || on >= from) && (to === null || on <= to);

/** Every record is what its entry says, its readings too, and none of the scope's days and devices is missing. */
async function checkRecords(folder, { site, scope }, book, report) {
  const { held, correctedBy, corrects, tags, assets } = book;
  const records = new Map();
  const [points, gauges, people] = [pairs(), pairs(), pairs()];
  const once = keeper();
  const wrong = (id, words) => report('calibrations.csv', `record ${id} ${words}`);
  for await (const row of rowsOf(path.join(folder, 'calibrations.csv'), book.counts)) {
    const id = row.record_id;
    const own = held.get(id);
    const facts = fingerprint(recordFacts.map(([column, , ofCell]) => ofCell(row[column])));
    if (records.has(id)) wrong(id, 'stands twice');
    if (row.site !== site) wrong(id, `stands at ${row.site}; the pack is of ${site}`);
    if (!own || own.facts !== facts) wrong(id, 'is not what its entry in the chain says');
    if (own) {
      const quality = correctedBy.has(id) ? 'retracted' : own.isSupplyRight ? 'ok' : 'suspect';
      if (row.quality !== quality) wrong(id, `is ${quality}, not ${row.quality}`);
      const note = correctedBy.get(id)?.why ?? (own.isSupplyRight ? '' : 'supply not right');
      if (row.quality_note !== note)
        wrong(
          id,
          `has the note ${row.quality_note || 'nothing'} on its quality; it follows as ${note || 'nothing'}`,
        );
      if (
        row.supersedes !== (corrects.get(id)?.id ?? '') ||
        row.correction_reason !== (corrects.get(id)?.why ?? '') ||
        row.superseded_by !== (correctedBy.get(id)?.id ?? '')
      )
        wrong(id, 'is corrected, or corrects, otherwise in the chain');
      if (row.replaced !== (isReplacedOn(book, own.device, own.on) ? 'yes' : ''))
        wrong(id, 'says otherwise than the chain whether its device was replaced that day');
      const tag = tags.get(own.device);
      if (tag !== undefined && tag !== row.asset)
        wrong(id, `stands under ${row.asset}; its device is ${tag}`);
      if (!points.isPair(own.point, JSON.stringify([row.asset, row.test_point, row.role])))
        wrong(id, `stands under ${row.asset} ${row.test_point} ${row.role}; its test point is another`);
      for (const [at, cell] of [row.pressure_gauge, row.temperature_gauge].entries())
        if (
          (own.gauges[at] === null) !== (cell === '') ||
          (cell !== '' && !gauges.isPair(own.gauges[at], cell))
        )
          wrong(id, 'names another instrument than its entry');
      if (!people.isPair(own.person, row.person)) wrong(id, `names ${row.person}; its person is another`);
    }
    records.set(own?.id ?? id, {
      name: once(JSON.stringify([row.asset, row.test_point, row.role])),
      quality: once(row.quality),
      unit: once(row.error_unit),
      verdicts: once([row.verdict_found, row.verdict_left]),
      cells: fingerprint(OF_RECORD.map((column) => row[column])),
      hasReadings: false,
      hasDrift: false,
    });
  }
  const isWhole = ['building', 'level', 'main', 'class', 'tags'].every((name) => scope[name] === null);
  const isByTags = ['building', 'level', 'main', 'class'].every((name) => scope[name] === null);
  const devices = new Map(
    [...tags].map(([device, tag]) => [device, assets.has(tag) || (isByTags && scope.tags?.includes(tag))]),
  );
  for (const [id, { on, point, device }] of held)
    if (
      !records.has(id) &&
      isInDays(scope, on) &&
      (isWhole || points.there.has(point) || devices.get(device))
    )
      wrong(id, 'is in the chain and not here');
  return { records, gauges, isWhole, devices };
}

/** Due day of the certificate that a gauge had on a day, else of the one before. */
const dueOf = (certificates, on) => certificates?.findLast(({ issued }) => issued <= on)?.due ?? '';

const count = (counts, key) => {
  const words = JSON.stringify(key);
  counts.set(words, (counts.get(words) ?? 0) + 1);
};

/** What a row of a replacement says. */
const ofReplacement = new Set(['property', 'text_value', 'asset', 'observed_on', 'quality', 'site', 'tz']);

/** Every reading is what the entry of its record says, and every replacement stands there once. */
async function checkReadings(folder, { site, scope }, book, report) {
  const { held, records, certificates, replaced, tags, gauges, assets, isWhole, devices } = book;
  const deviceOf = new Map([...tags].map(([device, tag]) => [tag, device]));
  const gaugeOf = new Map([...gauges.there].map(([id, tag]) => [tag, id]));
  const told = new Map();
  let [id, found, bare] = ['', [], 0];
  const wrong = (words) => report('readings.csv', `record ${id} ${words}`);
  const end = () => {
    if (bare > 1 || (bare === 1 && found.length > 0)) wrong('has a row without a reading beside others');
    if (id !== '' && held.get(id)?.readings !== fingerprint(found))
      wrong('has readings that are not what its entry in the chain says');
  };
  for await (const row of rowsOf(path.join(folder, 'readings.csv'), book.counts)) {
    if (row.property === 'replacement') {
      end();
      id = '';
      count(told, [
        assets.has(row.asset) ? (deviceOf.get(row.asset) ?? '') : row.asset,
        row.observed_on,
        row.text_value,
      ]);
      for (const [column, cell] of Object.entries(row))
        if (cell !== '' && !ofReplacement.has(column))
          report(
            'readings.csv',
            `a replacement has no ${column}; ${row.asset} ${row.observed_on} says ${cell}`,
          );
      if (row.site !== site) report('readings.csv', `a replacement stands at ${row.site}, not at ${site}`);
      if (row.quality !== 'ok') report('readings.csv', `a replacement is ok, not ${row.quality}`);
      continue;
    }
    if (row.record_id !== id) {
      end();
      [id, found, bare] = [row.record_id, [], 0];
      const record = records.get(id);
      if (record?.hasReadings) wrong('stands in two places');
      if (record) record.hasReadings = true;
    }
    const own = held.get(id);
    const record = records.get(id);
    if (!own || !record) {
      wrong('is not in calibrations.csv');
      continue;
    }
    if (fingerprint(OF_RECORD.map((column) => row[column])) !== record.cells)
      wrong('is told otherwise in calibrations.csv');
    if (row.property === '') {
      bare += 1;
      if (OF_READING.some((column) => row[column] !== '')) wrong('has a reading that names no property');
      continue;
    }
    found.push(
      readingOf({
        phase: row.phase,
        quantity: row.quantity,
        value: milli(row.value),
        words: row.text_value,
        unit: row.unit,
        state: row.air_state,
        ref: row.pressure_ref,
        instrument:
          row.instrument === '' ? null : [row.pressure_gauge, row.temperature_gauge].indexOf(row.instrument),
      }),
    );
    const at = { as_found: 0, as_left: 1 }[row.phase];
    const wanted = {
      reading_id: readingId(own.hash, found.length),
      property: row.quantity.replaceAll(/[^a-z0-9]+/g, '_'),
      error: at === undefined ? '' : [row.error_found, row.error_left][at],
      pass: at === undefined ? '' : (passes[record.verdicts[at]] ?? ''),
      instrument_cal_due:
        row.instrument === '' ? '' : dueOf(certificates.get(gaugeOf.get(row.instrument)), own.on),
    };
    for (const [column, cell] of Object.entries(wanted))
      if (row[column] !== cell) wrong(`has ${column} ${row[column]}; it follows as ${cell || 'nothing'}`);
  }
  end();
  for (const [own, { hasReadings }] of records)
    if (!hasReadings) report('readings.csv', `record ${own} of calibrations.csv is not here`);
  // Of devices without a record the chain does not know the tag: their replacements are held together by day and reason.
  const wanted = new Map();
  for (const [device, days] of replaced)
    for (const { on, reason } of days)
      if (isInDays(scope, on) && (!tags.has(device) || isWhole || devices.get(device)))
        count(wanted, [tags.has(device) ? device : '', on, reason]);
  for (const [key, n] of told)
    if (n > (wanted.get(key) ?? 0))
      report('readings.csv', `a replacement stands there that the chain does not hold: ${key}`);
  for (const [key, n] of wanted)
    if (n > (told.get(key) ?? 0) && (isWhole || !key.startsWith('["",')))
      report('readings.csv', `a replacement of the chain is not here: ${key}`);
}

/** Each table has the rows that the manifest says: those that were read to their end are counted already. */
async function checkRows(folder, manifest, counts, { report, attempt }) {
  for (const { name, rows } of manifest.files) {
    const file = path.join(folder, name);
    if (rows === null || !name.endsWith('.csv') || path.basename(name) !== name || !existsSync(file))
      continue;
    await attempt(name, async () => {
      if (!counts.has(name)) for await (const _ of rowsOf(file, counts));
      if (counts.get(name) !== rows) report(name, `has ${counts.get(name)} rows; the manifest says ${rows}`);
    });
  }
}

/** Days on which devices went into service, by tag. */
async function assetsOf(folder) {
  const assets = new Map();
  for await (const row of rowsOf(path.join(folder, 'assets.csv'))) assets.set(row.asset, row.in_service_on);
  return assets;
}

const isRead = ({ found, left }) => found !== null || left !== null;

/**
 * The visits of each test point that count, up to the last day of the scope: those before its first one too, for drift is
 * counted from them.
 */
function visitsByPoint(scope, { held, correctedBy }) {
  const visits = new Map();
  for (const [id, own] of held)
    if (!correctedBy.has(id) && (scope.to === null || own.on <= scope.to)) add(visits, own.point, own);
  // Records come by their numbers: those of one day keep that order.
  for (const own of visits.values()) own.sort((a, b) => (a.on < b.on ? -1 : a.on > b.on ? 1 : 0));
  return visits;
}

/** Each visit with what happened to its device: on that day, or after it and before the next visit. */
function withEvents(visits, { replaced }, to) {
  const days = new Set(
    (replaced.get(visits[0]?.device) ?? []).flatMap(({ on }) => (to === null || on <= to ? [on] : [])),
  );
  // Of several visits on the day of a replacement the last may be of the new device: nothing is counted from one to another.
  const events = visits.map((own, at) => ({
    ...own,
    event: days.has(own.on) ? 'replaced' : own.isRepaired ? 'changed' : '',
    isLast: days.has(own.on) && visits[at + 1]?.on === own.on,
  }));
  for (const day of days)
    if (!events.some(({ on }) => on === day)) {
      const before = events.findLast(({ on }) => on < day);
      if (before) before.isLast = true;
    }
  return events;
}

const isSameBasis = (one, other) =>
  one === null || other === null
    ? one === other
    : one.pressure === other.pressure && one.action === other.action && one.gain === other.gain;

/**
 * An error on another basis: e' = e + a (P' - P)/G, a being 1 for direct action and -1 for reverse. Over another gain by the
 * dial (M1) as it is, with the dial at the room (M3) as e' = (e G + a (P' - P))/G'; null where it cannot be told.
 */
function errorOn(basis, error, { basis: own, method }) {
  if (error === null || own === null || basis === null || own.action !== basis.action) return null;
  if (!(own.gain > 0) || !(basis.gain > 0)) return null;
  const shift = (basis.action === 'direct' ? 1 : -1) * (basis.pressure - own.pressure);
  if (own.gain === basis.gain || method === 'M1') return Math.round(error + shift / basis.gain);
  return method === 'M3' ? Math.round((error * own.gain + shift) / basis.gain) : null;
}

/** Errors on the newest basis of their series as far back as they can be told; a visit where a series ends keeps its own. */
function onNewestBasis(visits) {
  const told = [];
  // Nothing where what follows is another device, or counts from nothing: then each visit is told on its own.
  let basis;
  for (const visit of visits.toReversed()) {
    const { found, left, event } = visit;
    if (visit.isLast || (event !== '' && left === null)) basis = undefined;
    if (!isRead(visit) || basis === undefined || isSameBasis(visit.basis, basis)) {
      if (isRead(visit)) basis = visit.basis;
      told.push({ ...visit, shift: 0, carried: left, isLost: false });
      continue;
    }
    const [movedFound, movedLeft] = [errorOn(basis, found, visit), errorOn(basis, left, visit)];
    const isLost = (found !== null && movedFound === null) || (left !== null && movedLeft === null);
    if (event !== '' || isLost) {
      basis = visit.basis;
      told.push({ ...visit, event: event || 'changed', shift: 0, carried: movedLeft, isLost });
    } else {
      const shift = found === null ? movedLeft - left : movedFound - found;
      told.push({ ...visit, found: movedFound, left: movedLeft, shift, carried: movedLeft, isLost });
    }
  }
  return told.toReversed();
}

/** A new series, counted from what was left last, or from nothing. */
function begin(running, last) {
  running.series += 1;
  running.adjusted = 0;
  running.last = last;
}

/** After a visit: what the next one is counted from. */
function passVisit(running, visit) {
  const { on, found, left, carried, isFigure, isLeftAsBound, event } = visit;
  const hadLast = running.last !== null;
  const last = isRead(visit) ? { on, left: carried, isLeftAsBound } : running.last;
  const isBoundOnly = !isFigure && left !== null && (found !== null || hadLast);
  if (visit.isLast || visit.isLost || (event !== '' && left === null)) begin(running, null);
  else if (event !== '' || isBoundOnly) begin(running, last);
  else {
    running.last = last;
    if (isFigure && left !== null) running.adjusted += left - found;
  }
}

/** What the rows of one test point have to say, in their order. */
function expectedOf(visits, inServiceOn) {
  const running = { series: 0, last: null, adjusted: 0 };
  return onNewestBasis(visits).map((visit) => {
    const { on, found, left, isFigure, event } = visit;
    const nothing = { series: null, days: null, drift: null, rate: null, adjustment: null, unadjusted: null };
    if (on < inServiceOn) return { ...visit, ...nothing, carried: null };
    if (found !== null && running.last !== null && running.last.left === null && !running.last.isLeftAsBound)
      begin(running, null);
    const { last, series, adjusted } = running;
    const days = last === null ? null : (Date.parse(on) - Date.parse(last.on)) / 86_400_000;
    const drift = isFigure && last !== null && last.left !== null ? found - last.left : null;
    passVisit(running, visit);
    return {
      ...visit,
      carried: running.last?.left ?? null,
      series,
      days,
      drift,
      rate: drift === null || days === 0 ? null : (drift / 1000 / days) * 365.25,
      adjustment: !isFigure || left === null || event === 'replaced' ? null : left - found,
      unadjusted: isFigure ? found - adjusted : last === null && found === null ? left : null,
    };
  });
}

/** A rate is written with few digits. */
const isNear = (said, wanted) =>
  typeof said === 'number' &&
  typeof wanted === 'number' &&
  Math.abs(said - wanted) <= 1e-6 * Math.max(1, Math.abs(wanted));

/**
 * Every visit that counts, once, in the order of its days: drift = found - what was left at the visit before, unless the device
 * was replaced in between, both told on one basis; its days, its rate a year of 365.25 days, its series, the adjustment, and
 * the error as if nobody had ever adjusted.
 */
async function checkDrift(folder, { scope }, book, report) {
  const { held, records, assets } = book;
  const visits = visitsByPoint(scope, book);
  const groups = new Set();
  let [count, key, at, expected] = [0, '', -1, []];
  for await (const row of rowsOf(path.join(folder, 'drift.csv'), book.counts)) {
    const where = `${row.asset} ${row.role || row.test_point} ${row.observed_on}`;
    const wrong = (words) => report('drift.csv', `${where}: ${words}`);
    const own = held.get(row.record_id);
    const record = records.get(row.record_id);
    const name = JSON.stringify([row.asset, row.test_point, row.role]);
    if (!own || !record || record.name !== name || record.quality === 'retracted') {
      wrong(`record ${row.record_id} is not one that counts in calibrations.csv`);
      continue;
    }
    if (record.hasDrift) wrong('stands twice');
    record.hasDrift = true;
    if (name !== key) {
      if (groups.has(name)) wrong('stands apart from the visits of its test point');
      groups.add(name);
      [key, at] = [name, -1];
      const events = withEvents(visits.get(own.point) ?? [], book, scope.to);
      expected = expectedOf(events, assets.get(row.asset) ?? '');
    }
    const place = expected.findIndex(({ id }) => id === row.record_id);
    if (place < at || row.observed_on !== own.on) wrong('stands at another day than its record');
    if (place === -1) continue;
    at = place;
    if (row.unit !== record.unit) wrong('is told in another unit than its record');
    if (row.supply_flagged !== (own.isSupplyRight ? '' : 'yes')) wrong('says otherwise of its supply');
    if (row.drift !== '') count += 1;
    const wanted = expected[place];
    if (
      milli(row.error_found) !== wanted.found ||
      row.found_relation !== wanted.bound ||
      milli(row.error_left) !== wanted.left
    )
      wrong(`its errors are not those of record ${row.record_id}`);
    for (const [column, said, is] of [
      ['event', row.event, wanted.event],
      ['series', figure(row.series), wanted.series],
      ['reexpressed', milli(row.reexpressed), wanted.shift === 0 ? null : wanted.shift],
      ['carried', milli(row.carried), wanted.carried],
      ['days', figure(row.days), wanted.days],
      ['drift', milli(row.drift), wanted.drift],
      ['rate_per_year', figure(row.rate_per_year), wanted.rate],
      ['adjustment', milli(row.adjustment), wanted.adjustment],
      ['unadjusted', milli(row.unadjusted), wanted.unadjusted],
    ])
      if (said !== is && !(column === 'rate_per_year' && isNear(said, is)))
        wrong(`${column} ${row[column] || 'nothing'} does not follow from its rows`);
  }
  for (const [id, { quality, hasDrift }] of records) {
    if (quality !== 'retracted' && !hasDrift) report('drift.csv', `record ${id} is not here`);
  }
  return count;
}

const isObject = (value) => typeof value === 'object' && value !== null && !Array.isArray(value);

/** Whether it is a manifest at all; what is in it is proved after. */
function isManifest(value) {
  return (
    isObject(value) &&
    Array.isArray(value.files) &&
    value.files.every((file) => isObject(file) && typeof file.name === 'string') &&
    isObject(value.chain) &&
    isObject(value.scope)
  );
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
    const held = JSON.parse(text.toString('utf8'));
    if (isManifest(held)) return held;
    report('manifest.json', 'is not the manifest of a pack');
    return null;
  });
  if (manifest) {
    summary.files = manifest.files.length;
    summary.head = manifest.chain.head;
    summary.entries = manifest.chain.last;
    await attempt('manifest.json', () => checkFiles(folder, manifest, report));
    const chain = await attempt('chain.jsonl', () => checkChain(folder, manifest, report));
    const assets = await attempt('assets.csv', () => assetsOf(folder));
    const counts = new Map();
    const book = { ...chain, assets, counts };
    const found =
      chain &&
      assets &&
      (await attempt('calibrations.csv', () => checkRecords(folder, manifest, book, report)));
    if (found) {
      const all = { ...book, ...found };
      summary.records = found.records.size;
      await attempt('readings.csv', () => checkReadings(folder, manifest, all, report));
      summary.drifts = (await attempt('drift.csv', () => checkDrift(folder, manifest, all, report))) ?? 0;
    }
    await attempt('manifest.json', () => checkRows(folder, manifest, counts, { report, attempt }));
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
