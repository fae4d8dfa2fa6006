import type { RoundHead } from '../../../shared/contract/rounds.ts';

/** A round in a list: told apart from others of the same period by number, seed and when it was drawn. */
export function roundLabel({ id, name, status, seed, drawnAt }: RoundHead): string {
  return `${id}: ${name}, ${status}, seed ${seed}, drawn ${drawnAt.slice(0, 10)} ${drawnAt.slice(11, 16)} UTC`;
}
