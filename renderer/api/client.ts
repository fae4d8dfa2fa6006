/** The typed client: queries, commands, jobs and files by the names of the contract. */
import { QueryClient, useMutation, useQuery } from '@tanstack/react-query';
import type { UseMutationResult, UseQueryResult } from '@tanstack/react-query';
import type {
  CallName,
  FileName,
  InputOf,
  JobName,
  OutputOf,
  PlainName,
} from '../../shared/contract/index.ts';
import type { JobStatus } from '../../shared/contract/jobs.ts';
import { ApiError, send } from './transport.ts';

export const queryClient = new QueryClient({
  defaultOptions: { queries: { retry: false, staleTime: 5_000, refetchOnWindowFocus: true } },
});

const changes = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel('almanac-changes');
changes?.addEventListener('message', () => void queryClient.invalidateQueries());

/** After a write: this window and all others read anew. */
export function announceChange(): void {
  changes?.postMessage('changed');
  void queryClient.invalidateQueries();
}

/** Sends one call of the contract. */
export async function call<Name extends PlainName>(
  name: Name,
  input: InputOf<Name>,
): Promise<OutputOf<Name>> {
  return (await send(name, input)) as OutputOf<Name>;
}

/** A query of the contract as a React hook. `fresh` asks anew at each mount: see `isFetchedAfterMount`. */
export function useCall<Name extends PlainName>(
  name: Name,
  input: InputOf<Name>,
  options: { enabled?: boolean; keepPrevious?: boolean; fresh?: boolean } = {},
): UseQueryResult<OutputOf<Name>, ApiError> {
  return useQuery<OutputOf<Name>, ApiError>({
    queryKey: [name, input],
    queryFn: () => call(name, input),
    enabled: options.enabled ?? true,
    ...(options.fresh ? { refetchOnMount: 'always' as const } : {}),
    ...(options.keepPrevious
      ? { placeholderData: (previous: OutputOf<Name> | undefined) => previous as never }
      : {}),
  });
}

/** A command of the contract as a React hook; everything is read anew after it. */
export function useCommand<Name extends PlainName>(
  name: Name,
): UseMutationResult<OutputOf<Name>, ApiError, InputOf<Name>> {
  return useMutation<OutputOf<Name>, ApiError, InputOf<Name>>({
    mutationFn: (input) => call(name, input),
    onSuccess: announceChange,
  });
}

/** Jobs that write nothing: what is shown elsewhere stays as it is. */
const reading: ReadonlySet<JobName> = new Set<JobName>([
  'air.network',
  'drift.group',
  'energy.baseline',
  'energy.rank',
  'evidence.check',
  'evidence.preview',
  'findings.list',
  'intervals.recommend',
  'records.verify',
  'retrofit.quantities',
]);

export type JobWatch = { onProgress: (status: JobStatus) => void; signal: AbortSignal };

const POLL_MS = 120;

function wait(ms: number): Promise<void> {
  return new Promise((resolve) => {
    setTimeout(resolve, ms);
  });
}

/** Starts a job, watches it, and answers its result; aborting the signal cancels it. */
export async function runJob<Name extends JobName>(
  name: Name,
  input: InputOf<Name>,
  watch: JobWatch,
): Promise<OutputOf<Name>> {
  const { jobId } = (await send(name, input)) as { jobId: string };
  let cancelSent = false;
  for (;;) {
    if (watch.signal.aborted && !cancelSent) {
      cancelSent = true;
      await call('jobs.cancel', { jobId });
    }
    const status = await call('jobs.status', { jobId });
    watch.onProgress(status);
    if (status.state === 'done') {
      if (!reading.has(name)) announceChange();
      return status.result as OutputOf<Name>;
    }
    if (status.state !== 'running')
      throw new ApiError(status.error?.code ?? 'internal', status.error?.message ?? 'The job failed.', {
        problems: status.error?.problems,
      });
    await wait(POLL_MS);
  }
}

export type { CallName, FileName };
