/**
 * What a fault at the gauge is likely to come from, in the order in which it is looked for. Common practice of the
 * trade, no published source; oil and water at a device points to the dryer first.
 */
export const symptoms = {
  'main low everywhere, receiver normal': [
    'pressure-reducing valve set wrong or dirty',
    'filter plugged: look at the pressure drop',
    'relief valve weeping',
  ],
  'main low everywhere, receiver low': ['compressor off or worn', 'drain stuck open', 'large leak'],
  'main low at far end only': [
    'crimped or undersized tube',
    'leak nearby',
    'water in the line',
    'valve closed on the way',
  ],
  'main low in one state only': [
    'setting of that regulator or its pilot',
    'switchover relay not shifting',
    'leak at the exhaust',
  ],
  'main above its setting': [
    'seat of the pressure-reducing valve dirty',
    'relief valve should limit it: test it',
  ],
  'run fraction rising': [
    'leaks growing',
    'pump wearing: isolate the building and time the receiver to tell them apart',
  ],
  'oil or water in the air': [
    'dryer failed',
    'drain trap stuck',
    'compressor passing oil',
    'clean before calibrating',
  ],
  'branch stuck at main': ['exhaust or nozzle plugged', 'wrong air state', 'relay stuck'],
  'branch stuck at nothing': [
    'restrictor plugged',
    'no main air',
    'branch tube broken',
    'diaphragm ruptured',
  ],
  'does not hold its adjustment': [
    'linkage or bimetal loose',
    'nozzle or relay dirty',
    'controller worn: replace',
  ],
  'moves the wrong way': ['wrong unit fitted', 'wrong air state', 'linkage turned round'],
  'changeover out of place': [
    'changeover pressure of the controller out of adjustment',
    'main not at its setting at the device',
  ],
  'regulator does not hold': ['seat or diaphragm dirty', 'seat worn: replace', 'filter ahead plugged'],
  'relay does not shift': ['coil open or without voltage', 'plunger stuck'],
  'relay passes partly': ['dirt on the seat', 'leak at the blocked port'],
  'power loss gives the wrong state': [
    'ports piped the other way round',
    'register wrong: look at the ports',
  ],
  'clock wrong': ['reserve exhausted', 'daylight saving not set', 'clock worn'],
  'programme wrong': ['programme changed by hand', 'holidays not loaded', 'override left on'],
  'transmitter off at more than one point': ['no field span: replace', 'element damaged', 'restrictor dirty'],
  'actuator leaks': ['diaphragm torn', 'fitting leaks'],
  'actuator sticks': ['packing too tight', 'linkage or damper binds', 'corrosion', 'stem bent'],
  'spring range moved': ['spring tired', 'pressure of the fluid on the plug', 'linkage slipped'],
  'wrong normal position': ['linkage turned round', 'wrong actuator fitted', 'register wrong'],
  'does not change over in time': ['crimped tube or long run', 'regulator starved', 'relay passes partly'],
  'dew point high': ['dryer failed', 'drain trap stuck', 'dryer bypassed', 'desiccant spent'],
  'filter drop high': ['element spent: change it', 'water in the bowl'],
  'safety device not proved': ['test overdue', 'valve stuck: take the receiver out of service'],
  'standby does not start': ['changeover switch', 'breaker open', 'standby worn'],
} as const satisfies Record<string, readonly string[]>;
export type SymptomKey = keyof typeof symptoms;

/** Symptoms of the air supply: the same cause may show at many devices of one main. */
export const supplySymptoms: readonly SymptomKey[] = [
  'main low everywhere, receiver normal',
  'main low everywhere, receiver low',
  'main low at far end only',
  'main low in one state only',
  'main above its setting',
];

/** True for the words of a known symptom. */
export function isSymptom(word: string): word is SymptomKey {
  return Object.hasOwn(symptoms, word);
}
