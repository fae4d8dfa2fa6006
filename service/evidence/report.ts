/** report.pdf: the pack for people. Long tables are cut and say where the rest stands; heads are repeated on every page. */
import type { Content, TDocumentDefinitions, TableCell } from 'pdfmake/interfaces.js';
import type { EnergyAmounts, EnergyRanking } from '../../shared/contract/energy.ts';
import type { PackPreview } from '../../shared/contract/evidence.ts';
import type { RetrofitQuantities } from '../../shared/contract/retrofit.ts';
import { bandText, shown } from '../../shared/energy/band.ts';
import { partTitles, partsText, retrofitOptions, shareText } from '../../shared/retrofit/units.ts';
import { pageFoot } from '../pdf/boxes.ts';
import { renderTaggedPdf } from '../pdf/renderPdf.ts';
import type { PackFile } from './packWriter.ts';

/** Of each of the two lists of series. */
export const MOST_SERIES = 60;
const MOST_ENTRIES = 60;
const MOST_EVENT_YEARS = 40;

type Cells = Readonly<Record<string, string>>;

export type ReportFacts = {
  site: string;
  scope: string;
  cautions: readonly string[];
  head: { seq: number; hash: string };
  /** Time of the newest entry of the chain: the report of one book is one document. */
  at: Date;
  decisionRule: string;
  files: readonly PackFile[];
  preview: PackPreview;
  worst: { setpoints: readonly Cells[]; others: readonly Cells[]; all: number; outside: number };
  events: readonly { year: string; kind: string; count: number }[];
  energy: EnergyRanking;
  retrofit: RetrofitQuantities;
  instruments: readonly { tag: string; kind: string; certificate: string }[];
};

function tableOf(
  heads: readonly string[],
  rows: readonly (readonly string[])[],
  widths?: (string | number)[],
): Content {
  const head: TableCell[] = heads.map((text) => ({ text, bold: true }));
  return {
    fontSize: 7.5,
    margin: [0, 2, 0, 8],
    table: {
      headerRows: 1,
      keepWithHeaderRows: 1,
      dontBreakRows: true,
      widths: widths ?? heads.map(() => 'auto'),
      body: [head, ...rows.map((row) => [...row])],
    },
    layout: 'lightHorizontalLines',
  };
}

const heading = (text: string): Content => ({
  text,
  fontSize: 12,
  bold: true,
  margin: [0, 12, 0, 4],
  headlineLevel: 1,
});
const note = (text: string): Content => ({ text, fontSize: 8, margin: [0, 0, 0, 4] });

function amountCells(amounts: EnergyAmounts, currency: string): string[] {
  return [
    bandText(amounts.degreeHours),
    bandText(amounts.therms),
    bandText(amounts.kwh),
    bandText(amounts.money, currency),
  ];
}

function energyContent({
  entries,
  mains,
  total,
  lacking,
  cautions,
  weather,
  currency,
  counts,
}: EnergyRanking): Content[] {
  return [
    heading('Energy weight of drifted setpoints and faults'),
    note(
      `A year of each as it stands, low, central and high. “Alone”: were it the only one. “In order”: after what acts on the same zone before it (switchover, night, day) was mended; only these may be added. Weather: ${weather ? `${weather.name}, ${weather.source}` : 'none chosen'}. ${counts.weighed} setpoints weighed, ${counts.near} within half their tolerance, ${counts.unknown} without a reading that tells, ${counts.noZone} that keep no room.`,
    ),
    ...(lacking.length > 0 ? [{ ul: [...lacking], fontSize: 8, margin: [0, 0, 0, 4] } as Content] : []),
    tableOf(
      [
        '',
        'what',
        'at',
        '°F·h',
        'therms',
        'kWh',
        'alone, a year',
        'in order',
        'min',
        'method; base; confidence',
      ],
      entries
        .slice(0, MOST_ENTRIES)
        .map((entry) => [
          String(entry.rank),
          entry.kind,
          `${entry.tag} ${entry.role}\n${entry.words}`,
          ...amountCells(entry.alone, currency),
          bandText(entry.inOrder.money, currency),
          entry.minutes === null ? '–' : String(entry.minutes),
          `${entry.method}; ${entry.base}; ${entry.confidence}`,
        ]),
      [14, 42, 105, 45, 45, 45, 55, 55, 18, '*'],
    ),
    ...(entries.length > MOST_ENTRIES
      ? [note(`${entries.length - MOST_ENTRIES} more in energy_ranking.csv.`)]
      : []),
    note(
      `Together, in order: ${bandText(total.degreeHours)} °F·h, ${bandText(total.therms)} therms, ${bandText(total.kwh)} kWh, ${bandText(total.money, currency)} a year.`,
    ),
    tableOf(
      ['main', 'zones', 'mean error °F', '°F·h', 'therms', 'kWh', 'in order, a year'],
      mains.map((one) => [
        one.main ?? 'no main',
        String(one.zones),
        one.meanErrorDegF === null ? '–' : one.meanErrorDegF.toFixed(2),
        ...amountCells(one.inOrder, currency),
      ]),
    ),
    { ul: [...cautions], fontSize: 7.5 },
  ];
}

function errorsContent({ distributions }: RetrofitQuantities): Content[] {
  const spread = (name: string, one: RetrofitQuantities['distributions']['newest']): string[] => [
    name,
    String(one.count),
    shareText(one.within1),
    shareText(one.within2),
    shareText(one.beyond3),
    one.medianAbsolute === null ? '–' : one.medianAbsolute.toFixed(2),
    one.absolute90 === null ? '–' : one.absolute90.toFixed(2),
    shareText(one.warmShare),
  ];
  return [
    heading('Errors of setpoints'),
    tableOf(
      ['', 'n', 'within 1 °F', 'within 2 °F', 'beyond 3 °F', 'median size °F', '90 % within °F', 'warm'],
      [spread('newest of each', distributions.newest), spread('all of these days', distributions.period)],
    ),
    note(
      `Median drift ${distributions.drift.median === null ? '–' : distributions.drift.median.toFixed(2)} °F a year (n ${distributions.drift.count}).`,
    ),
  ];
}

function retrofitContent({
  units,
  totals,
  actuators,
  unmeasured,
  tubing,
  stations,
  cautions,
}: RetrofitQuantities): Content[] {
  return [
    heading('Quantities for a retrofit'),
    tableOf(
      ['building', 'unit', 'option', 'n', ...partTitles],
      [
        ...units.flatMap((unit) =>
          retrofitOptions.map((option) => [
            unit.building ?? '',
            unit.kind,
            option,
            String(unit.units),
            ...partsText(unit.options[option]),
          ]),
        ),
        ...retrofitOptions.map((option) => ['all', '', option, '', ...partsText(totals[option])]),
      ],
    ),
    note(
      `${actuators.length} actuators, ${unmeasured} without a measured spring range: actuators.csv. ${tubing.map(({ what, count }) => `${count} ${what}`).join(', ')}.`,
    ),
    tableOf(
      ['station', 'carries, scim', ...retrofitOptions.map((option) => `${option}: sheds kWh a year`), 'air'],
      stations.map(({ tag, now, shedKwh, words }) => [
        tag,
        `${shown(now.typical)} (${shown(now.low)} to ${shown(now.high)})`,
        ...retrofitOptions.map((option) => bandText(shedKwh[option])),
        words.join(', '),
      ]),
    ),
    { ul: [...cautions], fontSize: 7.5 },
  ];
}

function seriesTable(what: string, rows: readonly Cells[]): Content {
  return tableOf(
    [
      what,
      'unit',
      'tolerance',
      'as left last',
      'readings',
      'first',
      'last',
      'slope a year',
      '95 % limits',
      'trend',
    ],
    rows
      .slice(0, MOST_SERIES)
      .map((row) => [
        `${row.asset} ${row.role === '' ? row.test_point : row.role}`,
        row.unit,
        row.tolerance,
        row.standing,
        row.readings,
        row.first_on,
        row.last_on,
        rounded(row.adjusted === 'yes' ? row.rate_between_adjustments : row.median_slope_per_year),
        row.slope_low === '' ? '' : `${rounded(row.slope_low)} to ${rounded(row.slope_high)}`,
        row.trend,
      ]),
  );
}

/** A line a year, a column a kind. */
function eventsTable(events: ReportFacts['events']): Content {
  const kinds = [...new Set(events.map(({ kind }) => kind))].toSorted();
  const years = [...new Set(events.map(({ year }) => year))].toSorted().slice(-MOST_EVENT_YEARS);
  return tableOf(
    ['year', ...kinds],
    years.map((year) => [
      year,
      ...kinds.map((kind) =>
        String(events.find((one) => one.year === year && one.kind === kind)?.count ?? 0),
      ),
    ]),
  );
}

function contentOf(facts: ReportFacts): Content[] {
  const { preview, worst, files, head } = facts;
  return [
    { text: 'Evidence pack', fontSize: 18, bold: true, headlineLevel: 0 },
    { text: facts.site, fontSize: 12, margin: [0, 2, 0, 0] },
    { text: `${facts.scope}; worked out as of ${facts.energy.on}`, fontSize: 10, margin: [0, 2, 0, 6] },
    { ul: [...facts.cautions], fontSize: 8, margin: [0, 0, 0, 8] },
    note(
      `Chain of ${head.seq} entries, head ${head.hash}. Decision rule in force: ${facts.decisionRule}. node check.mjs in this folder proves files, records, readings and drifts against that chain; slopes, leaks, energy and quantities follow from them by methods that are documented, and are not proved by it. Nothing is left out: a corrected record stands beside the one that corrects it.`,
    ),
    heading('What it holds'),
    tableOf(
      ['', 'count'],
      preview.counts.map(({ what, count }) => [what, String(count)]),
    ),
    note(
      preview.firstOn === null
        ? 'No record in these days.'
        : `Records from ${preview.firstOn} to ${preview.lastOn}.`,
    ),
    tableOf(
      ['file', 'rows', 'bytes', 'SHA-256'],
      files.map(({ name, rows, bytes, sha256 }) => [
        name,
        rows === null ? '' : String(rows),
        String(bytes),
        sha256,
      ]),
    ),
    heading('What is missing'),
    preview.gaps.length === 0
      ? note('No gap was found.')
      : tableOf(
          ['gap', 'count', 'such as'],
          preview.gaps.map(({ what, count, examples }) => [what, String(count), examples.join(', ')]),
          ['*', 40, 260],
        ),
    heading('Where drift stands'),
    note(
      `${worst.all} test points with a series; ${worst.outside} stand outside tolerance as left last. Those nearest to it or beyond, by the share of their tolerance; all of them in series.csv.`,
    ),
    seriesTable('setpoint', worst.setpoints),
    seriesTable('other test point', worst.others),
    ...errorsContent(facts.retrofit),
    heading('What shifts a baseline'),
    eventsTable(facts.events),
    note('Each with its day, place, reason and person in events.csv.'),
    ...energyContent(facts.energy),
    ...retrofitContent(facts.retrofit),
    heading('Instruments'),
    tableOf(
      ['instrument', 'kind', 'newest certificate'],
      facts.instruments.map(({ tag, kind, certificate }) => [tag, kind, certificate]),
    ),
  ];
}

/** Three digits; what is nothing but the rest of a sum is nothing. */
function rounded(text: string): string {
  if (text === '') return '';
  return Math.abs(Number(text)) < 1e-6 ? '0' : String(Number(Number(text).toPrecision(3)));
}

/** The bytes of the report. The same facts make the same bytes. */
export async function reportPdf(facts: ReportFacts): Promise<Uint8Array<ArrayBuffer>> {
  return renderTaggedPdf({
    info: {
      title: `Evidence pack, ${facts.site}`,
      creationDate: facts.at,
      modDate: facts.at,
    } as TDocumentDefinitions['info'],
    language: 'en',
    pageSize: 'A4',
    pageOrientation: 'landscape',
    pageMargins: [36, 36, 36, 42],
    content: contentOf(facts),
    footer: pageFoot(facts.head),
    pageBreakBefore: (node, after) =>
      node.headlineLevel === 1 && after.getFollowingNodesOnPage().length === 0,
  } as TDocumentDefinitions & { content: Content[] });
}
