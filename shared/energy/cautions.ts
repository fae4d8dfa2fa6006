/** What limits the figures of energy: shown beside them, always (air-energy reference 4.8). */
export const energyCautions: readonly string[] = [
  'Steady state, one zone, constant gains and efficiency: fair for the year of a zone that its skin loads; poor for inner zones, single days, heat pumps and strong sun.',
  'Losses and gains are usually known to 30 %: low and high span that. Shares are far more robust than energies.',
  'An error of a setpoint is no error of a room where the unit lacks capacity, a window is open or an actuator is stuck.',
  'Neighbouring zones share heat: the sum over zones overstates.',
  'Normals are means of thirty years; a bill needs the temperatures of its own year.',
  'Degree days at low bases from monthly means can be 10 to 25 % off.',
  'The size of a leak is a guess: half or twice as much is as likely.',
  'Published shares come from homes and simulations for the most part.',
  'The cooling side is a share of metered cooling, 3 to 6 % a degree Fahrenheit, and knows no moisture, sun or fresh air: low confidence.',
];
