/** Saves a file of the service, and holds why it could not be. */
import { useState } from 'react';
import { ApiError } from '../api/transport.ts';
import { saveFile } from '../platform/files.ts';
import type { FileName, InputOf } from '../../shared/contract/index.ts';

export function useSave(): {
  save: <Name extends FileName>(name: Name, input: InputOf<Name>) => void;
  error: ApiError | null;
} {
  const [error, setError] = useState<ApiError | null>(null);
  return {
    error,
    save: (name, input) => {
      setError(null);
      saveFile(name, input).catch((problem: unknown) => {
        setError(problem instanceof ApiError ? problem : new ApiError('internal', String(problem)));
      });
    },
  };
}
