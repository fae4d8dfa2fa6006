/**
 * The structure of a PDF, for who has it read out: headings, paragraphs, lists, tables with their heads (ISO 32000, "Tagged
 * PDF"). pdfmake lays out and knows nothing of it; pdfkit below it writes it. Every piece of text carries its element through
 * the layout, and each line is written into that; rules, markers, feet, and heads repeated on later pages are artifacts.
 */
import { createRequire } from 'node:module';
import type { Content, TableCell } from 'pdfmake/interfaces.js';

/** What is used of pdfkit. */
type Element = { add: (child: unknown) => Element; end: () => void };
type Doc = {
  page: object;
  options: { tagged?: boolean };
  struct: (type: string, options?: { scope: string }) => Element;
  addStructure: (element: Element) => void;
  markContent: (tag: 'Artifact') => void;
  markStructureContent: (tag: string) => unknown;
  endMarkedContent: () => void;
};
/** What is used of pdfmake's renderer. */
type Item = { inlines?: readonly { mark?: Mark }[] };
type Draw = (this: { pdfDocument: Doc }, item: Item, ...rest: unknown[]) => void;

/** An element of the structure: the text of its lines, or its parts. */
export type Mark = {
  type: string;
  parts: readonly Mark[];
  parent: Mark | null;
  element: Element | null;
  /** The page on which its first line stands. */
  page: object | null;
};

type Block = {
  text?: Content;
  ul?: Content[];
  /** 0 is H1. */
  headlineLevel?: number;
  table?: { headerRows?: number; body: TableCell[][] };
};

function markOf(type: string, parts: readonly Mark[] = []): Mark {
  const mark: Mark = { type, parts, parent: null, element: null, page: null };
  for (const part of parts) part.parent = mark;
  return mark;
}

/** The same text, whose pieces carry their element. */
function marked(content: Content | TableCell, type: string): { content: Content; mark: Mark } {
  const mark = markOf(type);
  const own: Block = typeof content === 'object' ? (content as Block) : { text: String(content) };
  if (own.text === undefined) throw new TypeError('a tagged document is made of texts, lists and tables');
  const text: unknown = [{ text: own.text, mark }];
  return { content: { ...own, text } as Content, mark };
}

function markedBlock(content: Content): { content: Content; mark: Mark } {
  const { ul, table, headlineLevel } = (typeof content === 'object' ? content : {}) as Block;
  if (ul) {
    const items = ul.map((item) => marked(item, 'LBody'));
    return {
      content: { ...(content as object), ul: items.map((item) => item.content) } as Content,
      mark: markOf(
        'L',
        items.map(({ mark }) => markOf('LI', [mark])),
      ),
    };
  }
  if (table) {
    const rows = table.body.map((row, index) =>
      row.map((cell) => marked(cell, index < (table.headerRows ?? 0) ? 'TH' : 'TD')),
    );
    const body = rows.map((row) => row.map((cell) => cell.content));
    return {
      content: { ...(content as object), table: { ...table, body } } as Content,
      mark: markOf(
        'Table',
        rows.map((row) =>
          markOf(
            'TR',
            row.map(({ mark }) => mark),
          ),
        ),
      ),
    };
  }
  return marked(content, headlineLevel === undefined ? 'P' : `H${headlineLevel + 1}`);
}

/** Texts, lists and tables, of which every piece carries its element; and the element of the whole. */
export function withStructure(content: readonly Content[]): { content: Content[]; root: Mark } {
  const blocks = content.map(markedBlock);
  return {
    content: blocks.map((block) => block.content),
    root: markOf(
      'Document',
      blocks.map(({ mark }) => mark),
    ),
  };
}

function build(mark: Mark, doc: Doc): Element {
  const element = doc.struct(mark.type, mark.type === 'TH' ? { scope: 'Column' } : undefined);
  for (const part of mark.parts) element.add(build(part, doc));
  mark.element = element;
  return element;
}

/** The whole structure is built when the first of it is drawn, so that what holds no line has its place too. */
function elementOf(mark: Mark, doc: Doc): Element {
  if (mark.element) return mark.element;
  let root = mark;
  while (root.parent) root = root.parent;
  doc.addStructure(build(root, doc));
  return elementOf(mark, doc);
}

/** Draws as before, and in a tagged document into the element of what is drawn. */
function tagging(draw: Draw): Draw {
  return function drawTagged(item, ...rest) {
    const doc = this.pdfDocument;
    if (!doc.options.tagged) {
      draw.call(this, item, ...rest);
      return;
    }
    const mark = item.inlines?.[0]?.mark;
    const isTold = mark !== undefined && (mark.type !== 'TH' || mark.page === null || mark.page === doc.page);
    if (isTold) {
      mark.page ??= doc.page;
      elementOf(mark, doc).add(doc.markStructureContent(mark.type));
    } else doc.markContent('Artifact');
    draw.call(this, item, ...rest);
    doc.endMarkedContent();
  };
}

let isTaught = false;

/** Teaches pdfmake's renderer to write tagged documents; others are drawn as ever. */
export function teachTagging(): void {
  if (isTaught) return;
  isTaught = true;
  const { default: Renderer } = createRequire(import.meta.url)('pdfmake/js/Renderer') as {
    default: { prototype: Record<'renderLine' | 'renderVector', Draw> };
  };
  const { prototype } = Renderer;
  prototype.renderLine = tagging(prototype.renderLine);
  prototype.renderVector = tagging(prototype.renderVector);
}
