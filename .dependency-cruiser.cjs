/** Direction of imports and cycles. The layer line of DEVELOPERS.md, as rules. */
const only = (name, from, to, comment) => ({
  name,
  severity: 'error',
  comment,
  from: { path: `^${from}/` },
  to: { path: '^(shared|db|migrations|service|host|electron|renderer|scripts|tests)/', pathNot: to },
});

module.exports = {
  forbidden: [
    { name: 'no-cycles', severity: 'error', from: {}, to: { circular: true } },
    only('shared-is-pure', 'shared', '^shared/', 'shared imports only shared'),
    only(
      'db-below-service',
      'db',
      '^(db|shared|migrations)/',
      'db imports shared and the list of migrations',
    ),
    only('migrations-are-frozen', 'migrations', '^migrations/', 'a migration imports no code of the program'),
    only(
      'service-below-shells',
      'service',
      '^(service|db|migrations|shared)/',
      'the service knows no shell and no page',
    ),
    only('host-is-a-shell', 'host', '^(host|service|db|shared)/', 'the loopback shell'),
    only('electron-is-a-shell', 'electron', '^(electron|service|db|shared)/', 'the desktop shell'),
    only('renderer-knows-the-contract', 'renderer', '^(renderer|shared)/', 'the page knows shared only'),
    {
      name: 'planner-is-alone',
      severity: 'error',
      from: { path: '^shared/planning/' },
      to: { path: '^shared/', pathNot: '^shared/planning/' },
    },
    {
      name: 'trade-is-alone',
      severity: 'error',
      from: { path: '^shared/trade/' },
      to: { path: '^shared/', pathNot: '^shared/(trade|units|dates)/' },
    },
    {
      name: 'screens-apart',
      severity: 'error',
      from: { path: '^renderer/screens/([^/]+)/' },
      to: { path: '^renderer/screens/', pathNot: '^renderer/screens/$1/' },
    },
    {
      name: 'one-driver',
      severity: 'error',
      from: { path: '^(shared|db|migrations|service|host|electron|renderer)/', pathNot: '^db/driver\\.ts$' },
      to: { path: 'better-sqlite3' },
    },
    {
      name: 'one-ipc',
      severity: 'error',
      from: { path: '^renderer/' },
      to: { path: '(^|/)electron(/|$)', pathNot: '^shared/' },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfigs/cruise.json' },
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'node', 'default', 'types'],
    },
  },
};
