import { describe, expect, it } from 'vitest';
import { emptyService } from '../support/books.ts';
import { hostOver, ownHeaders, rawRequest } from '../support/host.ts';

type Change = { method?: string; path?: string; headers?: Record<string, string | null>; body?: string };

async function statusOf(change: Change): Promise<number> {
  const host = await hostOver(await emptyService());
  const headers = { ...ownHeaders(host) };
  for (const [name, value] of Object.entries(change.headers ?? {})) {
    if (value === null) delete headers[name];
    else headers[name] = value.replace('PORT', String(host.port));
  }
  return (
    await rawRequest(host, {
      method: change.method,
      path: change.path,
      headers,
      body: change.method === 'GET' ? undefined : (change.body ?? '{}'),
    })
  ).status;
}

describe('the loopback guard', () => {
  it.each<[string, Change, number]>([
    ['our own page', {}, 200],
    ['our own page without Sec-Fetch-Site', { headers: { 'sec-fetch-site': null } }, 200],
    ['a name that was rebound to us', { headers: { host: 'almanac.example:PORT' } }, 421],
    ['localhost instead of the address', { headers: { host: 'localhost:PORT' } }, 421],
    ['another port in Host', { headers: { host: '127.0.0.1:1' } }, 421],
    ['a call by GET', { method: 'GET' }, 405],
    ['a file by POST', { path: '/index.html' }, 405],
    ['another method', { method: 'DELETE', path: '/' }, 405],
    ['a target that is no path', { method: 'GET', path: '*' }, 400],
    ['a whole address as the target', { method: 'GET', path: 'http://127.0.0.1/' }, 400],
    ['no origin', { headers: { origin: null } }, 403],
    ['a foreign origin', { headers: { origin: 'https://evil.example' } }, 403],
    [
      'another port of ours',
      { headers: { origin: 'http://127.0.0.1:1', 'sec-fetch-site': 'same-site' } },
      403,
    ],
    ['the null origin', { headers: { origin: 'null' } }, 403],
    ['a same-site fetch', { headers: { 'sec-fetch-site': 'same-site' } }, 403],
    ['a form post', { headers: { 'content-type': 'application/x-www-form-urlencoded' } }, 415],
    ['plain text', { headers: { 'content-type': 'text/plain' } }, 415],
    ['no content type', { headers: { 'content-type': null } }, 415],
    ['no token', { headers: { authorization: null } }, 401],
    ['a wrong token', { headers: { authorization: `Bearer ${'A'.repeat(43)}` } }, 401],
    ['the token as a cookie', { headers: { authorization: null, cookie: 'token=x' } }, 401],
    ['an unknown call', { path: '/api/settings.none' }, 404],
    ['a call of the prototype', { path: '/api/constructor' }, 404],
    ['a body that is not JSON', { body: '{' }, 400],
    ['a body of brackets', { body: '['.repeat(200_000) + ']'.repeat(200_000) }, 400],
    ['a body of the wrong shape', { path: '/api/register.device', body: '{"id":"x"}' }, 400],
    ['a body over its limit', { body: JSON.stringify({ pad: 'x'.repeat(1_100_000) }) }, 413],
  ])('%s: %s', async (_words, change, status) => expect(await statusOf(change)).toBe(status));

  it.each([
    '/../package.json',
    '/%2e%2e/package.json',
    '/assets/%2e%2e%2fx',
    '/a%5cb',
    '/x%00',
    '/package.json',
    '/etc/passwd.txt',
  ])('no file but ours: %s', async (path) =>
    expect(
      await statusOf({
        method: 'GET',
        path,
        headers: { 'content-type': null, authorization: null, origin: null },
      }),
    ).toBe(404),
  );

  it('serves its page for every screen, with the strict policy and no cookie', async () => {
    const host = await hostOver(await emptyService());
    const answer = await rawRequest(host, {
      method: 'GET',
      path: '/round/3/day/2027-01-04/1',
      headers: { host: `127.0.0.1:${host.port}` },
    });
    expect([answer.status, answer.body]).toEqual([200, '<!doctype html><title>page</title>']);
    expect(answer.headers['content-security-policy']).toBe(
      "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    );
    expect(answer.headers).toMatchObject({
      'x-content-type-options': 'nosniff',
      'referrer-policy': 'no-referrer',
      'cross-origin-opener-policy': 'same-origin',
      'cross-origin-resource-policy': 'same-origin',
    });
    expect([answer.headers['set-cookie'], answer.headers['access-control-allow-origin']]).toEqual([
      undefined,
      undefined,
    ]);
  });
  it('a refused host learns nothing', async () => {
    const host = await hostOver(await emptyService());
    const answer = await rawRequest(host, { method: 'GET', path: '/', headers: { host: 'evil.example' } });
    expect([answer.status, answer.body, answer.headers['set-cookie']]).toEqual([421, '', undefined]);
  });
  it('a target that cannot be read is answered, and the host lives on', async () => {
    const host = await hostOver(await emptyService());
    const own = { host: `127.0.0.1:${host.port}` };
    for (const path of ['*', 'http://127.0.0.1:1/', `http://127.0.0.1:${host.port}/`, '//[', '/%'])
      expect((await rawRequest(host, { method: 'GET', path, headers: own })).status).toBeLessThan(500);
    expect((await rawRequest(host, { headers: ownHeaders(host), body: '{}' })).status).toBe(200);
  });
  it('an answer to a call is never stored', async () => {
    const host = await hostOver(await emptyService());
    expect((await rawRequest(host, { headers: ownHeaders(host), body: '{}' })).headers['cache-control']).toBe(
      'no-store',
    );
  });
});
