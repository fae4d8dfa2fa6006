/**
 * Our classes beside those of open ontologies: Brick 1.4.4, Haystack 4, ASHRAE 223 (2026), read in their published files.
 * None of them has a vocabulary of control air: `fit` says how well each term meets.
 */
export type Term = {
  ours: string;
  brick: string | null;
  haystack: string | null;
  ashrae223: string | null;
  fit: string;
  note: string;
};

export const TERM_NAMESPACES = {
  brick: 'https://brickschema.org/schema/Brick#',
  s223: 'http://data.ashrae.org/standard223#',
  sosa: 'http://www.w3.org/ns/sosa/',
  prov: 'http://www.w3.org/ns/prov#',
} as const;

export const terms: readonly Term[] = [
  {
    ours: 'building',
    brick: 'brick:Building',
    haystack: 'site',
    ashrae223: null,
    fit: 'good',
    note: '223: use PhysicalSpace hierarchy',
  },
  {
    ours: 'room',
    brick: 'brick:HVAC_Zone',
    haystack: 'hvac zone space',
    ashrae223: 's223:Zone (with s223:DomainSpace, s223:hasDomain s223:Domain-HVAC)',
    fit: 'good',
    note: '',
  },
  {
    ours: 'controller, single or two-setpoint or changeover',
    brick: 'brick:Thermostat',
    haystack: 'thermostat equip',
    ashrae223: 's223:Thermostat',
    fit: 'good',
    note: 'add own flag for pneumatic, action DA/RA, pipe count',
  },
  {
    ours: 'controller, humidity',
    brick: null,
    haystack: null,
    ashrae223: 's223:Humidistat',
    fit: 'partial',
    note: 'only 223 has the class',
  },
  {
    ours: 'setpoint, occupied or heating',
    brick: 'brick:Occupied_Heating_Zone_Air_Temperature_Setpoint',
    haystack: 'zone air temp occ heating sp point',
    ashrae223: 'property with s223:hasAspect s223:Aspect-Setpoint; s223:hasSetpoint',
    fit: 'good',
    note: 'haystack tags as in hvacZonePoints',
  },
  {
    ours: 'setpoint, unoccupied',
    brick: 'brick:Unoccupied_Heating_Zone_Air_Temperature_Setpoint',
    haystack: 'zone air temp unocc heating sp point',
    ashrae223: 'as above + Role-Heating',
    fit: 'good',
    note: '',
  },
  {
    ours: 'setpoint, cooling',
    brick: 'brick:Occupied_Cooling_Zone_Air_Temperature_Setpoint',
    haystack: 'zone air temp occ cooling sp point',
    ashrae223: 'as above + Role-Cooling',
    fit: 'good',
    note: '',
  },
  {
    ours: 'setpoint, only',
    brick: 'brick:Target_Zone_Air_Temperature_Setpoint',
    haystack: 'zone air temp effective sp point',
    ashrae223: 's223:hasSetpoint',
    fit: 'good',
    note: 'typical for single-setpoint pneumatic thermostats',
  },
  {
    ours: 'reading, room_temperature',
    brick: 'brick:Zone_Air_Temperature_Sensor',
    haystack: 'zone air temp sensor point',
    ashrae223: 's223:TemperatureSensor',
    fit: 'good',
    note: 'for a hand-held reading prefer sosa:Observation',
  },
  {
    ours: 'reading, main_pressure or branch_pressure',
    brick: 'brick:Gauge_Pressure_Sensor',
    haystack: 'air pressure sensor point',
    ashrae223: 's223:GaugePressureSensor',
    fit: 'partial',
    note: 'no class says control air; add own substance flag',
  },
  {
    ours: 'air_station',
    brick: 'brick:Compressor',
    haystack: 'compressor equip',
    ashrae223: 's223:Compressor',
    fit: 'partial',
    note: 'classes do not separate refrigerant from air',
  },
  {
    ours: 'air_station, dryer',
    brick: null,
    haystack: null,
    ashrae223: null,
    fit: 'none',
    note: 'extension class needed',
  },
  {
    ours: 'air_station, receiver',
    brick: 'brick:Tank',
    haystack: 'tank equip',
    ashrae223: 's223:Equipment',
    fit: 'partial',
    note: '',
  },
  {
    ours: 'air_station, filter',
    brick: 'brick:Filter',
    haystack: 'filter',
    ashrae223: 's223:Filter',
    fit: 'partial',
    note: '',
  },
  {
    ours: 'regulator',
    brick: 'brick:Pressure_Regulator_Valve',
    haystack: 'valve',
    ashrae223: 's223:Valve',
    fit: 'partial',
    note: '',
  },
  {
    ours: 'controller, receiver',
    brick: 'brick:Controller',
    haystack: null,
    ashrae223: 's223:Controller',
    fit: 'weak',
    note: 'all three mean an electronic controller first',
  },
  {
    ours: 'switchover_relay',
    brick: 'brick:Relay (defined there as electrically operated)',
    haystack: null,
    ashrae223: 's223:Equipment',
    fit: 'weak',
    note: 'extension class needed',
  },
  {
    ours: 'actuator of a damper',
    brick: 'brick:Damper (no actuator class)',
    haystack: 'damper actuator equip',
    ashrae223: 's223:Actuator s223:actuates s223:Damper',
    fit: 'good in 223',
    note: '223 Actuator text names pneumatic',
  },
  {
    ours: 'actuator of a valve',
    brick: 'brick:Valve / brick:Reheat_Valve (no actuator class)',
    haystack: 'valve actuator equip',
    ashrae223: 's223:Actuator s223:actuates s223:TwoWayValve or s223:ThreeWayValve',
    fit: 'good in 223',
    note: 'haystack actuator text names pneumatics',
  },
  {
    ours: 'main',
    brick: null,
    haystack: null,
    ashrae223: 's223:Pipe with s223:hasMedium s223:Fluid-Air',
    fit: 'partial',
    note: '223 Pipe text includes compressed air',
  },
  {
    ours: 'branch pressure as a signal',
    brick: null,
    haystack: null,
    ashrae223: null,
    fit: 'none',
    note: 'extension enumeration needed',
  },
  {
    ours: 'record',
    brick: null,
    haystack: null,
    ashrae223: null,
    fit: 'use W3C',
    note: 'sosa:Observation, and prov:Activity for the visit',
  },
];
