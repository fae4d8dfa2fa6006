/** See `bootstrap.mjs`; what the configuration of the tests takes from it. */
export const nodeFlags: string[];
