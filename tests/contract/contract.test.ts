/** Every call of the contract, in this process and over the real socket, through JSON both times. */
import { describe, expect, it } from 'vitest';
import { createRequestCore } from '../../service/http/handler.ts';
import type { Service } from '../../service/service.ts';
import { calls } from '../../shared/contract/index.ts';
import { errorStatus } from '../../shared/contract/errors.ts';
import type { Envelope } from '../../shared/contract/errors.ts';
import { sampleService } from '../support/books.ts';
import { hostOver, ownHeaders, plainAssets, rawRequest } from '../support/host.ts';

type Client = (
  name: string,
  input: unknown,
) => Promise<{ status: number; envelope: Envelope<unknown> | null; type: string }>;

function parse(text: string, type: string): Envelope<unknown> | null {
  return type.startsWith('application/json') ? (JSON.parse(text) as Envelope<unknown>) : null;
}

async function inProcess(service: Service): Promise<Client> {
  const core = createRequestCore(service, plainAssets);
  return async (name, input) => {
    const response = await core(
      new Request(`http://almanac/api/${name}`, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify(input),
      }),
    );
    const type = response.headers.get('content-type') ?? '';
    return { status: response.status, envelope: parse(await response.text(), type), type };
  };
}

async function overSocket(service: Service): Promise<Client> {
  const host = await hostOver(service);
  return async (name, input) => {
    const answer = await rawRequest(host, {
      path: `/api/${name}`,
      headers: ownHeaders(host),
      body: JSON.stringify(input),
    });
    const type = answer.headers['content-type'] ?? '';
    return { status: answer.status, envelope: parse(answer.body, type), type };
  };
}

const clients: [string, (service: Service) => Promise<Client>][] = [
  ['in process', inProcess],
  ['over the socket', overSocket],
];

describe.each(clients)('the contract %s', (_name, clientOf) => {
  it.each(Object.keys(calls))('%s refuses what is not its input, with the field', async (name) => {
    const client = await clientOf(await sampleService());
    const answer = await client(name, 'nonsense');
    expect(answer.status).toBe(400);
    expect(answer.envelope).toMatchObject({
      ok: false,
      error: { code: 'invalid_input', details: { problems: expect.any(Array) } },
    });
  });

  it.each(['\ud800', 'a\u0000b'])('text that cannot be stored is refused, not bent: %j', async (text) => {
    const client = await clientOf(await sampleService());
    const refused = { status: 400, envelope: { error: { code: 'invalid_input' } } };
    expect(await client('register.list', { find: text })).toMatchObject(refused);
    expect(
      await client('register.save', {
        rowClass: 'building',
        cells: { building: 'NEW', name: text },
        version: null,
      }),
    ).toMatchObject(refused);
  });

  it('answers a query, a command, a file and a job', async () => {
    const client = await clientOf(await sampleService());
    expect(await client('settings.book', {})).toMatchObject({
      status: 200,
      envelope: { ok: true, data: { isSample: true, site: { name: 'Wexmoor Civic Hall and Annex' } } },
    });
    expect(
      await client('settings.saveDaysOff', { daysOff: [{ on: '2027-01-01', name: 'new year' }] }),
    ).toMatchObject({ status: 200, envelope: { ok: true } });
    expect(await client('register.export', {})).toMatchObject({
      status: 200,
      envelope: null,
      type: 'text/csv; charset=utf-8',
    });
    expect(await client('records.verify', {})).toMatchObject({
      status: 200,
      envelope: { ok: true, data: { jobId: expect.any(String) } },
    });
  });

  it('an expected failure carries a code, words for people and the status of its code', async () => {
    const client = await clientOf(await sampleService());
    const answer = await client('register.device', { id: 999_999 });
    expect(answer).toMatchObject({
      status: errorStatus.not_found,
      envelope: { ok: false, error: { code: 'not_found', message: 'There is no such device in the book.' } },
    });
  });

  it('an unexpected failure carries an incident and no stack', async () => {
    const service = await sampleService();
    const broken: Service = {
      ...service,
      call: () => Promise.reject(new Error('secret detail')),
      report: () => 'abc12345',
    };
    const client = await clientOf(broken);
    const answer = await client('settings.book', {});
    expect(answer).toMatchObject({
      status: 500,
      envelope: { ok: false, error: { code: 'internal', incident: 'abc12345' } },
    });
    expect(JSON.stringify(answer)).not.toContain('secret');
  });

  it('two rows with the same key are a conflict, not a crash', async () => {
    const client = await clientOf(await sampleService());
    const person = {
      id: null,
      version: null,
      name: 'Somebody Else',
      initials: 'OV',
      skills: [],
      active: true,
      shiftIds: [],
      absences: [],
    };
    expect(await client('settings.savePerson', person)).toMatchObject({
      status: 409,
      envelope: { error: { code: 'conflict' } },
    });
  });
});
