/** See `bootstrap.mjs`; what the configuration of the tests takes from it. */
export function nodeFlags(): string[];
