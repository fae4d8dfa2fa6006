/** The loopback host over a service, and raw requests at it: what no browser would send. */
import http from 'node:http';
import { onTestFinished } from 'vitest';
import { startLoopbackHost } from '../../host/server.ts';
import type { LoopbackHost } from '../../host/server.ts';
import { createRequestCore } from '../../service/http/handler.ts';
import type { Assets } from '../../service/http/assets.ts';
import type { Service } from '../../service/service.ts';

const page = new TextEncoder().encode('<!doctype html><title>page</title>');
export const plainAssets: Assets = new Map([
  ['/index.html', { bytes: page, mediaType: 'text/html; charset=utf-8' }],
  ['/assets/a.js', { bytes: page, mediaType: 'text/javascript; charset=utf-8' }],
]);

/** A host that is closed after the test. */
export async function hostOver(service: Service, assets: Assets = plainAssets): Promise<LoopbackHost> {
  const host = await startLoopbackHost({
    core: createRequestCore(service, assets),
    report: (detail) => console.error(detail),
  });
  onTestFinished(() => host.close());
  return host;
}

export type RawAnswer = { status: number; headers: http.IncomingHttpHeaders; body: string };

/** One request, exactly as given: no header is added but the ones Node insists on. */
export function rawRequest(
  host: LoopbackHost,
  options: { method?: string; path?: string; headers?: Record<string, string>; body?: string },
): Promise<RawAnswer> {
  return new Promise((resolve, reject) => {
    const request = http.request(
      {
        host: '127.0.0.1',
        port: host.port,
        method: options.method ?? 'POST',
        path: options.path ?? '/api/settings.book',
        headers: options.headers,
        setHost: false,
      },
      (response) => {
        const chunks: Buffer[] = [];
        response.on('data', (chunk: Buffer) => chunks.push(chunk));
        response.on('end', () =>
          resolve({
            status: response.statusCode ?? 0,
            headers: response.headers,
            body: Buffer.concat(chunks).toString(),
          }),
        );
      },
    );
    request.on('error', reject);
    request.end(options.body);
  });
}

/** Headers of a well-behaved call from our own page. */
export function ownHeaders(host: LoopbackHost): Record<string, string> {
  const own = `127.0.0.1:${host.port}`;
  return {
    host: own,
    origin: `http://${own}`,
    'sec-fetch-site': 'same-origin',
    'content-type': 'application/json',
    authorization: `Bearer ${host.token}`,
  };
}
