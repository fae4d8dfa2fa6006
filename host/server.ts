/** The loopback shell: node:http on 127.0.0.1, the guard, then the request core. */
import { randomBytes } from 'node:crypto';
import http from 'node:http';
import type { IncomingMessage, ServerResponse } from 'node:http';
import { Readable } from 'node:stream';
import type { AddressInfo } from 'node:net';
import type { RequestCore } from '../service/http/handler.ts';
import { commonHeaders, loopbackHeaders } from '../shared/security/headers.ts';
import { judgeRequest } from './guard.ts';

export type LoopbackHost = {
  port: number;
  token: string;
  /** The address to open: the token stands in the fragment, which no browser ever sends. */
  url: string;
  close: () => Promise<void>;
};

const HEADERS_TIMEOUT_MS = 10_000;
const REQUEST_TIMEOUT_MS = 120_000;
const MOST_CONNECTIONS = 128;

function toRequest(message: IncomingMessage, host: string, signal: AbortSignal): Request {
  const headers = new Headers();
  for (const [name, value] of Object.entries(message.headers))
    if (typeof value === 'string') headers.set(name, value);
  const hasBody = message.method === 'POST';
  return new Request(`http://${host}${message.url ?? '/'}`, {
    method: message.method,
    headers,
    signal,
    ...(hasBody ? { body: Readable.toWeb(message) as ReadableStream, duplex: 'half' } : {}),
  } as RequestInit);
}

async function send(response: Response, target: ServerResponse, isHead: boolean): Promise<void> {
  target.statusCode = response.status;
  for (const [name, value] of response.headers) target.setHeader(name, value);
  for (const [name, value] of Object.entries(loopbackHeaders)) target.setHeader(name, value);
  if (isHead || !response.body) {
    target.end();
    return;
  }
  target.end(Buffer.from(await response.arrayBuffer()));
}

function refuse(target: ServerResponse, status: number, text: string): void {
  for (const [name, value] of Object.entries({ ...commonHeaders, ...loopbackHeaders }))
    target.setHeader(name, value);
  target.setHeader('content-type', 'text/plain; charset=utf-8');
  target.setHeader('connection', 'close');
  target.statusCode = status;
  target.end(text);
}

/** Starts the shell. Port 0 lets the system choose. It never listens on anything but 127.0.0.1. */
export async function startLoopbackHost(setup: {
  core: RequestCore;
  port?: number;
  token?: string;
  report: (detail: string) => void;
}): Promise<LoopbackHost> {
  const token = setup.token ?? randomBytes(32).toString('base64url');
  let host = '';
  const server = http.createServer((message, target) => {
    const refusal = judgeRequest(
      { method: message.method ?? '', path: message.url ?? '/', headers: message.headers },
      { host, token },
    );
    if (refusal) {
      message.resume();
      refuse(target, refusal.status, refusal.text);
      return;
    }
    const abort = new AbortController();
    target.on('close', () => abort.abort());
    // A target that is no path of ours (`*`, a whole address) throws while the request is made: inside the chain.
    Promise.resolve()
      .then(() => setup.core(toRequest(message, host, abort.signal)))
      .then((response) => send(response, target, message.method === 'HEAD'))
      .catch((error: unknown) => {
        setup.report(error instanceof Error ? (error.stack ?? error.message) : String(error));
        if (!target.headersSent) refuse(target, 400, 'bad request');
        else target.destroy();
      });
  });
  server.headersTimeout = HEADERS_TIMEOUT_MS;
  server.requestTimeout = REQUEST_TIMEOUT_MS;
  server.maxConnections = MOST_CONNECTIONS;
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen(setup.port ?? 0, '127.0.0.1', resolve);
  });
  const { port } = server.address() as AddressInfo;
  host = `127.0.0.1:${port}`;
  return {
    port,
    token,
    url: `http://${host}/#t=${token}`,
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve());
        server.closeAllConnections();
      }),
  };
}
