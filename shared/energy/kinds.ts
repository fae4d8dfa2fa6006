/** What a ranking weighs. */
export const energyKinds = [
  'switchover',
  'night setpoint',
  'day setpoint',
  'cooling setpoint',
  'overlap',
  'leak',
  'bleed',
] as const;

/** In place of a public station's id: the site's own weather, loaded from a file. */
export const OWN_WEATHER = 'own';
