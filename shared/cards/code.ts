/** The code on paper that opens a card: readable by people, short enough for a small square. */

const PREFIX = 'card:';

/** Code of a card: `card:TAG` or `card:TAG#ROLE`. */
export function cardCode(tag: string, key: string): string {
  return key === '' ? `${PREFIX}${tag}` : `${PREFIX}${tag}#${key}`;
}

/** Tag and role out of a scanned code, or of a tag typed by hand; null for nothing. */
export function readCardCode(text: string): { tag: string; key: string } | null {
  const raw = text.trim();
  const body = raw.toLowerCase().startsWith(PREFIX) ? raw.slice(PREFIX.length) : raw;
  const [tag = '', key = ''] = body.split('#').map((part) => part.trim());
  return tag === '' ? null : { tag, key };
}
