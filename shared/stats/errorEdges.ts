/** Edges of the distribution of found errors, in tolerances; what lies beyond the ends is counted in the end bars. */
export const ERROR_EDGES: readonly number[] = Array.from({ length: 17 }, (_, index) => -2 + index * 0.25);
