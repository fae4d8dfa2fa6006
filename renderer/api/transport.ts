/** One way to the service, on both shells: POST JSON to /api/GROUP.CALL. The transport shows nothing to anybody. */
import type { Envelope, ErrorCode, ErrorDetails } from '../../shared/contract/errors.ts';
import { workingPersonId } from './workingPerson.ts';

const TOKEN_KEY = 'almanac-token';

export class ApiError extends Error {
  readonly code: ErrorCode | 'no_token' | 'unreachable';
  readonly details: ErrorDetails;

  constructor(code: ErrorCode | 'no_token' | 'unreachable', message: string, details: ErrorDetails = {}) {
    super(message);
    this.name = 'ApiError';
    this.code = code;
    this.details = details;
  }
}

/** Moves the token of the printed link from the address into this tab's own storage. */
export function takeTokenFromAddress(): void {
  const token = /^#t=([A-Za-z0-9_-]+)$/.exec(location.hash)?.[1];
  if (token === undefined) return;
  sessionStorage.setItem(TOKEN_KEY, token);
  history.replaceState(null, '', location.pathname + location.search);
}

/** True on a shell that needs no token, or when this tab has one. */
export function hasAccess(): boolean {
  return location.protocol !== 'http:' || sessionStorage.getItem(TOKEN_KEY) !== null;
}

async function post(name: string, input: unknown): Promise<Response> {
  const headers: Record<string, string> = { 'content-type': 'application/json' };
  const token = sessionStorage.getItem(TOKEN_KEY);
  if (token !== null) headers.authorization = `Bearer ${token}`;
  const person = workingPersonId();
  if (person !== null) headers['x-almanac-person'] = String(person);
  try {
    return await fetch(`/api/${name}`, {
      method: 'POST',
      headers,
      body: JSON.stringify(input),
      credentials: 'omit',
    });
  } catch {
    throw new ApiError(
      'unreachable',
      'The program does not answer. It may have been closed; start it again and open the new link.',
    );
  }
}

async function toError(response: Response): Promise<ApiError> {
  if (response.status === 401)
    return new ApiError(
      'no_token',
      'This page was opened without its link. Open the link that the program printed.',
    );
  try {
    const envelope = (await response.json()) as Envelope<unknown>;
    if (!envelope.ok)
      return new ApiError(envelope.error.code, envelope.error.message, envelope.error.details);
  } catch {
    // Not one of our answers: said below.
  }
  return new ApiError('internal', `The program answered ${response.status}.`);
}

/** Sends one call and answers its data. */
export async function send(name: string, input: unknown): Promise<unknown> {
  const response = await post(name, input);
  if (!response.ok) throw await toError(response);
  const envelope = (await response.json()) as Envelope<unknown>;
  if (!envelope.ok) throw new ApiError(envelope.error.code, envelope.error.message, envelope.error.details);
  return envelope.data;
}

/** Sends a call that answers a file. */
export async function fetchFile(name: string, input: unknown): Promise<{ fileName: string; blob: Blob }> {
  const response = await post(name, input);
  if (!response.ok) throw await toError(response);
  const fileName =
    /filename="([^"]+)"/.exec(response.headers.get('content-disposition') ?? '')?.[1] ?? 'download';
  return { fileName, blob: await response.blob() };
}
