/** PDF by pdfmake, with its standard fonts from the package and no access to files or the network. */
import { createRequire } from 'node:module';
import type { Content, TDocumentDefinitions } from 'pdfmake/interfaces.js';
import { teachTagging, withStructure } from './tagged.ts';

type PdfMake = {
  addFonts: (fonts: Record<string, Record<string, string>>) => void;
  setUrlAccessPolicy: (policy: (url: string) => boolean) => void;
  setLocalAccessPolicy: (policy: (path: string) => boolean) => void;
  createPdf: (definition: TDocumentDefinitions) => {
    getStream: () => Promise<unknown>;
    getBuffer: () => Promise<Buffer>;
  };
};

const load = createRequire(import.meta.url);
let ready: PdfMake | null = null;

function pdfMake(): PdfMake {
  if (ready) return ready;
  const maker = load('pdfmake') as PdfMake;
  maker.addFonts({
    Roboto: {
      normal: load.resolve('pdfmake/fonts/Roboto/Roboto-Regular.ttf'),
      bold: load.resolve('pdfmake/fonts/Roboto/Roboto-Medium.ttf'),
      italics: load.resolve('pdfmake/fonts/Roboto/Roboto-Italic.ttf'),
      bolditalics: load.resolve('pdfmake/fonts/Roboto/Roboto-MediumItalic.ttf'),
    },
  });
  maker.setUrlAccessPolicy(() => false);
  maker.setLocalAccessPolicy((path) => /[\\/]pdfmake[\\/]fonts[\\/]/.test(path));
  ready = maker;
  return maker;
}

/** Renders a document to bytes. */
export async function renderPdf(definition: TDocumentDefinitions): Promise<Uint8Array<ArrayBuffer>> {
  const buffer = await pdfMake().createPdf(definition).getBuffer();
  return new Uint8Array(buffer);
}

/** Renders a document of texts, lists and tables that can be read out: its structure is in the file, in the order of reading. */
export async function renderTaggedPdf(
  definition: TDocumentDefinitions & { content: Content[] },
): Promise<Uint8Array<ArrayBuffer>> {
  teachTagging();
  const { content, root } = withStructure(definition.content);
  const made = pdfMake().createPdf({
    ...definition,
    content,
    version: '1.7',
    tagged: true,
    displayTitle: true,
  });
  await made.getStream();
  root.element?.end();
  return new Uint8Array(await made.getBuffer());
}
