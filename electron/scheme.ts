/** Serves the page and its calls on our own scheme: the same request core as the loopback shell, without its guard. */
import type { RequestCore } from '../service/http/handler.ts';

/** Only `app://main` answers. No token: nothing but our own windows can reach the scheme. */
export function createSchemeHandler(core: () => RequestCore): (request: Request) => Promise<Response> {
  return async (request) => {
    const url = new URL(request.url);
    if (url.host !== 'main') return new Response('no such host', { status: 404 });
    return core()(request);
  };
}
