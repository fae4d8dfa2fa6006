/** The whole contract: every call that a renderer, a command or a test can make. */
import type { z } from 'zod';
import { air } from './air.ts';
import { bench } from './bench.ts';
import type { CallDefinition } from './define.ts';
import { drift } from './drift.ts';
import { due } from './due.ts';
import { energy } from './energy.ts';
import { evidence } from './evidence.ts';
import { findings } from './findings.ts';
import { followUps } from './followUps.ts';
import { gauges } from './gauges.ts';
import { intervals } from './intervals.ts';
import { jobs } from './jobs.ts';
import { paper } from './paper.ts';
import { records } from './records.ts';
import { register } from './register.ts';
import { retrofit } from './retrofit.ts';
import { rounds } from './rounds.ts';
import { settings } from './settings.ts';
import { stations } from './stations.ts';

export const contract = {
  air,
  bench,
  drift,
  due,
  energy,
  evidence,
  findings,
  followUps,
  gauges,
  intervals,
  jobs,
  paper,
  records,
  register,
  retrofit,
  rounds,
  settings,
  stations,
};
export type Contract = typeof contract;

type Join<G extends string, N> = N extends string ? `${G}.${N}` : never;
export type CallName = { [G in keyof Contract & string]: Join<G, keyof Contract[G]> }[keyof Contract &
  string];

export type DefinitionOf<Name extends CallName> = Name extends `${infer G}.${infer N}`
  ? G extends keyof Contract
    ? N extends keyof Contract[G]
      ? Contract[G][N]
      : never
    : never
  : never;

export type InputOf<Name extends CallName> =
  DefinitionOf<Name> extends CallDefinition<infer I> ? z.input<I> : never;
export type ParsedInputOf<Name extends CallName> =
  DefinitionOf<Name> extends CallDefinition<infer I> ? z.output<I> : never;
export type OutputOf<Name extends CallName> =
  DefinitionOf<Name> extends CallDefinition<z.ZodType, infer O> ? z.output<O> : never;

type NamesOfKind<K> = { [Name in CallName]: DefinitionOf<Name> extends { kind: K } ? Name : never }[CallName];
export type JobName = NamesOfKind<'job'>;
export type FileName = NamesOfKind<'file'>;
export type PlainName = Exclude<CallName, JobName | FileName>;

/** Every call by its full name, `group.call`. */
export const calls = Object.fromEntries(
  Object.entries(contract).flatMap(([group, members]) =>
    Object.entries(members).map(([name, definition]) => [`${group}.${name}`, definition as CallDefinition]),
  ),
) as Record<CallName, CallDefinition>;

/** True when a text names a call of the contract. */
export function isCallName(name: string): name is CallName {
  return Object.hasOwn(calls, name);
}
