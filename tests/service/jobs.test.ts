import { describe, expect, it } from 'vitest';
import type { Service } from '../../service/service.ts';
import { plainFileStyle, sampleService, upload } from '../support/books.ts';

async function ended(service: Service, jobId: string) {
  for (;;) {
    const status = await service.call('jobs.status', { jobId });
    if (status.state !== 'running') return status;
    await new Promise((resolve) => {
      setImmediate(resolve);
    });
  }
}

describe('jobs in worker threads', () => {
  it('draw a round and hold its result', async () => {
    const service = await sampleService();
    const { jobId } = await service.call('rounds.draw', { from: '2027-01-01', to: '2027-06-30' });
    const status = await ended(service, jobId);
    expect([status.state, (status.result as { roundId: number }).roundId]).toEqual(['done', 1]);
    expect((await service.call('rounds.list', {})).rounds).toHaveLength(1);
  });
  it('can be cancelled, and leave nothing half done', async () => {
    const service = await sampleService();
    const { jobId } = await service.call('rounds.draw', { from: '2027-01-01', to: '2028-12-31' });
    await service.call('jobs.cancel', { jobId });
    expect((await ended(service, jobId)).state).toBe('cancelled');
    expect((await service.call('rounds.list', {})).rounds).toEqual([]);
  });
  it('carry expected failures with their problems', async () => {
    const service = await sampleService();
    const { jobId } = await service.call('rounds.draw', { from: '2027-02-01', to: '2027-01-01' });
    expect(await ended(service, jobId)).toMatchObject({
      state: 'failed',
      error: { code: 'invalid_input', problems: [{ column: 'to' }] },
    });
  });
  it('load a register while the service answers', async () => {
    const service = await sampleService();
    const { jobId } = await service.call('register.load', {
      files: [upload('a.csv', 'class,building\nbuilding,NEW\n')],
      style: plainFileStyle,
      dryRun: false,
    });
    expect((await service.call('settings.book', {})).devices).toBeGreaterThan(400);
    expect(await ended(service, jobId)).toMatchObject({ state: 'done', result: { added: 1 } });
  });
  it('an unknown job is not found', async () => {
    const service = await sampleService();
    await expect(service.call('jobs.status', { jobId: 'none' })).rejects.toMatchObject({ code: 'not_found' });
  });
});
