/** Every migration in order, as a fixed list: a bundled program cannot read a folder. A test compares the two. */
import type { Migration } from 'kysely/migration';
import * as createBook from './202611250900_create_book.ts';
import * as airTestsAndLeaks from './202611261400_air_tests_and_leaks.ts';
import * as cardsOfEveryClass from './202611260500_cards_of_every_class.ts';
import * as energyOfBuildings from './202611261800_energy_of_buildings.ts';
import * as historiesByIndex from './202611260800_histories_by_index.ts';
import * as movesOfARedraw from './202611260200_moves_of_a_redraw.ts';
import * as waysOfAMain from './202611251500_ways_of_a_main.ts';

export const migrations: Record<string, Migration> = {
  '202611250900_create_book': createBook,
  '202611251500_ways_of_a_main': waysOfAMain,
  '202611260200_moves_of_a_redraw': movesOfARedraw,
  '202611260500_cards_of_every_class': cardsOfEveryClass,
  '202611260800_histories_by_index': historiesByIndex,
  '202611261400_air_tests_and_leaks': airTestsAndLeaks,
  '202611261800_energy_of_buildings': energyOfBuildings,
};
