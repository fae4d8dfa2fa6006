/** The request core: a Request in, a Response out. It knows nothing of sockets or of Electron. */
import { createReadStream } from 'node:fs';
import { Readable } from 'node:stream';
import { calls, isCallName } from '../../shared/contract/index.ts';
import { AppError, errorStatus } from '../../shared/contract/errors.ts';
import type { ErrorCode, ErrorDetails } from '../../shared/contract/errors.ts';
import type { FileOutput } from '../../shared/contract/define.ts';
import { commonHeaders } from '../../shared/security/headers.ts';
import { toAppError } from '../../db/errors.ts';
import type { Service } from '../service.ts';
import type { Assets } from './assets.ts';

export type RequestCore = (request: Request) => Promise<Response>;

const API_PREFIX = '/api/';

function json(status: number, body: unknown): Response {
  return new Response(JSON.stringify(body), {
    status,
    headers: {
      ...commonHeaders,
      'content-type': 'application/json; charset=utf-8',
      'cache-control': 'no-store',
    },
  });
}

function failure(code: ErrorCode, message: string, details?: ErrorDetails, incident?: string): Response {
  return json(errorStatus[code], { ok: false, error: { code, message, details, incident } });
}

function plain(status: number, text: string): Response {
  return new Response(text, {
    status,
    headers: { ...commonHeaders, 'content-type': 'text/plain; charset=utf-8' },
  });
}

/** Reads a body up to a limit; throws `too_large` as soon as it is passed. */
async function readBody(request: Request, limit: number): Promise<string> {
  const declared = Number(request.headers.get('content-length') ?? '0');
  const tooLarge = (): AppError =>
    new AppError('too_large', `The request is larger than ${Math.round(limit / 1_000_000)} MB.`);
  if (declared > limit) throw tooLarge();
  if (!request.body) return '';
  const chunks: Uint8Array[] = [];
  let size = 0;
  for await (const chunk of request.body as unknown as AsyncIterable<Uint8Array>) {
    size += chunk.length;
    if (size > limit) throw tooLarge();
    chunks.push(chunk);
  }
  return Buffer.concat(chunks).toString('utf8');
}

function parseJson(text: string): unknown {
  try {
    return text === '' ? {} : JSON.parse(text);
  } catch {
    throw new AppError('invalid_input', 'The request is not JSON.', {
      problems: [{ column: '', value: text.slice(0, 80), reason: 'not JSON' }],
    });
  }
}

function personOf(request: Request): number | null {
  const id = Number(request.headers.get('x-almanac-person') ?? '');
  return Number.isInteger(id) && id > 0 ? id : null;
}

/** The bytes of a file, or a stream of one that stands on the disk: it may be larger than the memory. */
function bodyOf({ bytes, path }: FileOutput): BodyInit {
  return path === undefined
    ? new Uint8Array(bytes)
    : (Readable.toWeb(createReadStream(path)) as unknown as ReadableStream);
}

async function answerCall(service: Service, request: Request, name: string): Promise<Response> {
  if (request.method !== 'POST') return plain(405, 'calls are POST');
  if (!(request.headers.get('content-type') ?? '').startsWith('application/json'))
    return plain(415, 'calls are application/json');
  if (!isCallName(name)) return failure('not_found', `There is no call ${name.slice(0, 80)}.`);
  try {
    const input = parseJson(await readBody(request, calls[name].bodyLimit));
    const data = await service.call(name, input as never, personOf(request));
    if (calls[name].kind !== 'file') return json(200, { ok: true, data });
    const file = data as unknown as FileOutput;
    return new Response(bodyOf(file), {
      headers: {
        ...commonHeaders,
        'content-type': file.mediaType,
        'content-disposition': `attachment; filename="${file.fileName.replace(/[^\w.-]/g, '_')}"`,
        'cache-control': 'no-store',
      },
    });
  } catch (error) {
    const known = toAppError(error);
    if (known) return failure(known.code, known.message, known.details);
    const incident = service.report(
      `${name}: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`,
    );
    return failure(
      'internal',
      `Something went wrong in the program. Nothing was changed. Incident ${incident}.`,
      undefined,
      incident,
    );
  }
}

function answerAsset(assets: Assets, request: Request, pathname: string): Response {
  if (request.method !== 'GET' && request.method !== 'HEAD') return plain(405, 'files are GET');
  // A path without an ending is a screen of the program: the page finds its own way from the address.
  const asset =
    assets.get(pathname) ?? (/\.[a-z0-9]+$/i.test(pathname) ? undefined : assets.get('/index.html'));
  if (!asset) return plain(404, 'no such file');
  const immutable = pathname.startsWith('/assets/');
  return new Response(request.method === 'HEAD' ? null : asset.bytes, {
    headers: {
      ...commonHeaders,
      'content-type': asset.mediaType,
      'cache-control': immutable ? 'public, max-age=31536000, immutable' : 'no-cache',
    },
  });
}

/** The core over a service and the built renderer. */
export function createRequestCore(service: Service, assets: Assets): RequestCore {
  return async (request) => {
    const { pathname } = new URL(request.url);
    if (/%(?:2e|2f|5c|00)|\\|\u0000|\/\.\.?(?:\/|$)/i.test(pathname)) return plain(404, 'no such file');
    if (pathname.startsWith(API_PREFIX))
      return answerCall(service, request, pathname.slice(API_PREFIX.length));
    return answerAsset(assets, request, pathname);
  };
}
