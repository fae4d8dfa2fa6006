/** Readings of a series from which on each figure is given: our own choice, with its reasons in the docs. */
export const GIVEN_FROM = { lines: 3, trend: 5, slopeLimits: 6, bend: 8, serial: 16 } as const;
