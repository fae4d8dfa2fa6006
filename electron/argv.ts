/** What a start, or a second start, asks for. Only a book may be named; everything else is ignored. */
import path from 'node:path';

/** The book named on a command line, as an absolute path; null when there is none, or it is not one of ours. */
export function bookOfArgv(argv: readonly string[], workingFolder: string): string | null {
  const named: string[] = [];
  for (const [index, arg] of argv.entries()) {
    if (arg === '--book') named.push(argv[index + 1] ?? '');
    else if (arg.startsWith('--book=')) named.push(arg.slice('--book='.length));
    else if (index > 0 && !arg.startsWith('-') && arg.endsWith('.book') && argv[index - 1] !== '--book')
      named.push(arg);
  }
  const [file] = named;
  if (
    named.length !== 1 ||
    file === '' ||
    file.startsWith('-') ||
    /[\u0000-\u001f]/.test(file) ||
    /^[a-z][a-z0-9+.-]+:\/\//i.test(file) ||
    /^(\\\\|\/\/)/.test(file)
  )
    return null;
  return path.resolve(workingFolder, file);
}
