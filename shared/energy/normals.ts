/**
 * Public climate normals, so that a site without its own weather has one near it: NOAA NCEI U.S. Climate Normals, public domain.
 * Copied from tests/published/data/energy-normals-*.csv, which name the page each was read from; a test holds the two together.
 * The station of 1991-2020 is from memory. Monthly means degF, degree days degF.day.
 */
import type { Weather } from './weather.ts';

const source = 'NOAA NCEI U.S. Climate Normals, public domain';

export const publicNormals: readonly (Weather & { id: string })[] = [
  {
    id: 'USW00094846 1981-2010',
    name: "Chicago O'Hare Intl Airport IL US, 1981-2010",
    source,
    daily: [],
    means: [23.8, 27.7, 37.9, 48.9, 59.1, 68.9, 74, 72.4, 64.6, 52.5, 40.3, 27.7],
    bases: [],
  },
  {
    id: 'urbana-il 1981-2010',
    name: 'Urbana IL US, 1981-2010',
    source,
    daily: [],
    means: [24.8, 29, 40, 51.9, 62.5, 72.2, 74.9, 73.4, 66.2, 53.9, 41.3, 28.9],
    bases: [],
  },
  {
    id: 'USW00094846 1991-2020',
    name: "Chicago O'Hare Intl Airport IL US, 1991-2020 (from memory)",
    source,
    daily: [],
    means: [25.2, 28.8, 39, 49.7, 60.6, 70.6, 75.4, 73.8, 66.3, 54, 41.3, 30.5],
    bases: [],
  },
  {
    id: 'USC00456295 1981-2010',
    name: 'Palmer 3 ESE WA US, 1981-2010',
    source,
    daily: [],
    means: [39.3, 40.7, 43.8, 47.4, 53.1, 57.8, 62.9, 63.5, 58.9, 50.7, 42.9, 37.7],
    bases: [
      { season: 'heating', base: 40, months: [83, 57, 21, 4, 0, 0, 0, 0, 0, 1, 38, 110] },
      { season: 'heating', base: 45, months: [190, 142, 87, 34, 4, 0, 0, 0, 0, 12, 108, 232] },
      { season: 'heating', base: 50, months: [333, 262, 203, 117, 34, 3, 0, 0, 3, 59, 224, 382] },
      { season: 'heating', base: 55, months: [487, 399, 349, 239, 115, 31, 3, 1, 25, 159, 366, 536] },
      { season: 'heating', base: 57, months: [549, 455, 410, 293, 159, 56, 9, 5, 45, 210, 425, 598] },
      { season: 'heating', base: 60, months: [642, 539, 502, 379, 233, 111, 30, 22, 90, 294, 515, 691] },
      { season: 'heating', base: 65, months: [797, 679, 657, 527, 374, 230, 108, 92, 198, 444, 665, 846] },
      { season: 'cooling', base: 45, months: [13, 23, 50, 108, 255, 384, 553, 573, 417, 189, 43, 6] },
      { season: 'cooling', base: 50, months: [1, 3, 11, 40, 130, 237, 398, 418, 270, 81, 9, 0] },
      { season: 'cooling', base: 55, months: [0, 0, 1, 12, 56, 115, 246, 265, 142, 25, 1, 0] },
      { season: 'cooling', base: 57, months: [0, 0, 0, 7, 38, 80, 190, 206, 102, 15, 0, 0] },
      { season: 'cooling', base: 60, months: [0, 0, 0, 3, 19, 45, 118, 130, 57, 5, 0, 0] },
      { season: 'cooling', base: 65, months: [0, 0, 0, 0, 5, 14, 41, 46, 15, 0, 0, 0] },
      { season: 'cooling', base: 70, months: [0, 0, 0, 0, 1, 3, 10, 9, 3, 0, 0, 0] },
      { season: 'cooling', base: 72, months: [0, 0, 0, 0, 0, 1, 5, 5, 1, 0, 0, 0] },
    ],
  },
  {
    id: 'USW00013904 1981-2010',
    name: 'Austin-Bergstrom Intl Airport TX US, 1981-2010',
    source,
    daily: [],
    means: [49.2, 52.1, 59.2, 67.3, 75.2, 81, 83.4, 83.7, 77.8, 69, 58.4, 50.4],
    bases: [
      { season: 'heating', base: 40, months: [22, 10, 1, 0, 0, 0, 0, 0, 0, 0, 1, 13] },
      { season: 'heating', base: 45, months: [59, 29, 6, 0, 0, 0, 0, 0, 0, 0, 8, 40] },
      { season: 'heating', base: 50, months: [128, 73, 21, 2, 0, 0, 0, 0, 0, 0, 28, 106] },
      { season: 'heating', base: 55, months: [229, 148, 55, 6, 0, 0, 0, 0, 0, 3, 68, 205] },
      { season: 'heating', base: 57, months: [277, 186, 77, 10, 0, 0, 0, 0, 0, 5, 92, 251] },
      { season: 'heating', base: 60, months: [353, 250, 123, 22, 0, 0, 0, 0, 0, 15, 137, 326] },
      { season: 'heating', base: 65, months: [495, 373, 222, 63, 3, 0, 0, 0, 2, 49, 234, 462] },
      {
        season: 'cooling',
        base: 45,
        months: [190, 228, 446, 668, 936, 1081, 1192, 1199, 985, 745, 412, 208],
      },
      { season: 'cooling', base: 50, months: [103, 132, 306, 519, 781, 931, 1037, 1044, 835, 591, 281, 119] },
      { season: 'cooling', base: 55, months: [50, 68, 185, 373, 626, 781, 882, 889, 685, 438, 172, 63] },
      { season: 'cooling', base: 57, months: [35, 49, 146, 318, 564, 721, 820, 827, 625, 379, 136, 47] },
      { season: 'cooling', base: 60, months: [18, 29, 98, 240, 471, 631, 727, 735, 536, 295, 91, 29] },
      { season: 'cooling', base: 65, months: [5, 11, 42, 130, 319, 481, 572, 580, 388, 175, 38, 10] },
      { season: 'cooling', base: 70, months: [1, 3, 13, 53, 181, 331, 417, 425, 246, 83, 12, 2] },
      { season: 'cooling', base: 72, months: [0, 1, 6, 32, 134, 272, 355, 363, 193, 56, 7, 1] },
    ],
  },
];
