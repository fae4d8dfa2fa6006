/** Drafts are kept as the page wrote them; what does not read is no draft. */
import { AppError } from '../../shared/contract/errors.ts';

/** Throws `invalid_input` for a draft that is not JSON. */
export function requireDraft(json: string): void {
  try {
    JSON.parse(json);
  } catch {
    throw new AppError('invalid_input', 'The draft is not readable.', {
      problems: [{ column: 'json', value: json.slice(0, 40), reason: 'not JSON' }],
    });
  }
}
