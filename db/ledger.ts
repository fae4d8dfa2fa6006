/**
 * The chain: hash_n = SHA-256(hash_(n-1) + "\n" + canonical JSON of entry n), genesis 64 zeros, canonical
 * form RFC 8785 by the library `canonicalize`. Entries hold integers and text only. An entry of a record is
 * its rows, column by column, so that the record can be held against it at any time.
 */
import { createHash } from 'node:crypto';
import canonicalizeJson from 'canonicalize';
import type { BookDb } from './book.ts';
import type { LedgerTable } from './schema.ts';

export const GENESIS_HASH = '0'.repeat(64);

/** Canonical JSON text of a value (RFC 8785). Throws TypeError for what JSON cannot hold. */
export function canonicalJson(value: unknown): string {
  const text = canonicalizeJson(value);
  if (text === undefined) throw new TypeError('this value has no JSON form');
  return text;
}

/** Hash of an entry's canonical JSON after a previous hash, as 64 lowercase hex digits. */
export function chainHash(prevHash: string, entryJson: string): string {
  return createHash('sha256').update(`${prevHash}\n${entryJson}`, 'utf8').digest('hex');
}

export type LedgerKind = LedgerTable['kind'];

export type ChainHead = { seq: number; hash: string };

/** Sequence and hash of the newest entry; 0 and the genesis hash for an empty chain. */
export async function chainHead(db: BookDb): Promise<ChainHead> {
  const row = await db
    .selectFrom('ledger')
    .select(['seq', 'hash'])
    .orderBy('seq', 'desc')
    .limit(1)
    .executeTakeFirst();
  return row ?? { seq: 0, hash: GENESIS_HASH };
}

/** Appends one entry to the chain and answers the new head. */
export async function appendToChain(
  db: BookDb,
  entry: { kind: LedgerKind; recordId: number | null; at: string; content: unknown },
): Promise<ChainHead> {
  const head = await chainHead(db);
  const entryJson = canonicalJson({ kind: entry.kind, at: entry.at, content: entry.content });
  const next = { seq: head.seq + 1, hash: chainHash(head.hash, entryJson) };
  await db
    .insertInto('ledger')
    .values({
      seq: next.seq,
      kind: entry.kind,
      record_id: entry.recordId,
      at: entry.at,
      entry_json: entryJson,
      prev_hash: head.hash,
      hash: next.hash,
    })
    .execute();
  return next;
}

export type LedgerRow = {
  seq: number;
  kind: LedgerKind;
  record_id: number | null;
  at: string;
  entry_json: string;
  prev_hash: string;
  hash: string;
};

/** Entries after `seq`, in order, at most `limit`. */
export async function ledgerAfter(db: BookDb, seq: number, limit: number): Promise<LedgerRow[]> {
  return db
    .selectFrom('ledger')
    .select(['seq', 'kind', 'record_id', 'at', 'entry_json', 'prev_hash', 'hash'])
    .where('seq', '>', seq)
    .orderBy('seq')
    .limit(limit)
    .execute();
}

/** Hash of the first entry: what tells one book from every other. The genesis hash for an empty chain. */
export async function firstEntryHash(db: BookDb): Promise<string> {
  const row = await db.selectFrom('ledger').select('hash').where('seq', '=', 1).executeTakeFirst();
  return row?.hash ?? GENESIS_HASH;
}

/** Rounds in the order in which they were issued, with the time. */
export async function issuesOfRounds(db: BookDb) {
  return db
    .selectFrom('ledger as g')
    .innerJoin('round as r', 'r.id', 'g.record_id')
    .select(['r.id as roundId', 'r.name', 'r.from_on as from', 'r.to_on as to', 'g.at'])
    .where('g.kind', '=', 'issued round')
    .orderBy('g.seq')
    .execute();
}
