/**
 * The chain's hash. Vectors computed outside this project with Python hashlib and node:crypto, identical
 * (data/hash_chain_vectors.json); SHA-256 itself: FIPS 180-4, whose digests of "" and "abc" are among them.
 */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { GENESIS_HASH, canonicalJson, chainHash } from '../../db/ledger.ts';

const vectors = JSON.parse(readFileSync(new URL('data/hash_chain_vectors.json', import.meta.url), 'utf8'));
const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');

it('SHA-256 of nothing and of abc', () =>
  expect([sha256(''), sha256('abc')]).toEqual([vectors.sha256_empty, vectors.sha256_abc]));

it('the chain of the vectors, from canonical JSON and from the parsed entry', () => {
  let prev = GENESIS_HASH;
  for (const entry of vectors.chain) {
    expect(entry.prev).toBe(prev);
    expect(canonicalJson(JSON.parse(entry.canonical_json))).toBe(entry.canonical_json);
    expect(chainHash(prev, entry.canonical_json)).toBe(entry.hash);
    prev = entry.hash;
  }
});

it('a changed figure changes the hash to the known one', () =>
  expect(chainHash(GENESIS_HASH, vectors.chain[0].canonical_json.replace('1.1', '1.0'))).toBe(
    vectors.tampered_first_hash.hash,
  ));
