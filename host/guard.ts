/**
 * The loopback guard. Any page in the browser and any program of the machine can reach 127.0.0.1, so every
 * request is judged, in this order: exact Host; target, method and path; Origin and Sec-Fetch-Site; content type;
 * bearer token. The core judges size.
 */
import { createHash, timingSafeEqual } from 'node:crypto';

export type GuardedRequest = {
  method: string;
  path: string;
  headers: Readonly<Record<string, string | string[] | undefined>>;
};
export type Refusal = { status: 400 | 401 | 403 | 405 | 415 | 421; text: string };

function one(headers: GuardedRequest['headers'], name: string): string | null {
  const value = headers[name];
  return typeof value === 'string' ? value : null;
}

/** Equal in constant time: both sides are hashed first, so that lengths do not show. */
function isToken(given: string, token: string): boolean {
  const digest = (text: string): Buffer => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(given), digest(token));
}

/** Null when the request may pass, else how it is refused. `host` is `127.0.0.1:PORT`. */
export function judgeRequest(
  request: GuardedRequest,
  setup: { host: string; token: string },
): Refusal | null {
  const { headers } = request;
  if (one(headers, 'host') !== setup.host) return { status: 421, text: '' };
  // `*` and whole addresses are for proxies, which this is not.
  if (!request.path.startsWith('/')) return { status: 400, text: 'target' };
  const isCall = request.path.startsWith('/api/');
  if (isCall ? request.method !== 'POST' : request.method !== 'GET' && request.method !== 'HEAD')
    return { status: 405, text: 'method' };
  const site = one(headers, 'sec-fetch-site');
  const origin = one(headers, 'origin');
  const own = `http://${setup.host}`;
  if (isCall && origin !== own) return { status: 403, text: 'origin' };
  if (!isCall && origin !== null && origin !== own) return { status: 403, text: 'origin' };
  if (isCall && site !== null && site !== 'same-origin') return { status: 403, text: 'site' };
  if (!isCall) return null;
  if (!/^application\/json(?:;|$)/i.test(one(headers, 'content-type') ?? ''))
    return { status: 415, text: 'content type' };
  const bearer = /^Bearer ([A-Za-z0-9_-]{1,200})$/.exec(one(headers, 'authorization') ?? '');
  if (!bearer || !isToken(bearer[1], setup.token)) return { status: 401, text: 'token' };
  return null;
}
