// UTF-8 in both directions in plain language: the core has no TextEncoder. A text that is not well formed is undefined.

/** Lone surrogates become U+FFFD. */
export function encodeUtf8(text: string): number[] {
  const bytes: number[] = [];
  for (const character of text) {
    const found = character.codePointAt(0)!;
    const point = found >= 0xd800 && found < 0xe000 ? 0xfffd : found;
    if (point < 0x80) bytes.push(point);
    else if (point < 0x800) bytes.push(0xc0 | (point >> 6), 0x80 | (point & 0x3f));
    else if (point < 0x10000)
      bytes.push(0xe0 | (point >> 12), 0x80 | ((point >> 6) & 0x3f), 0x80 | (point & 0x3f));
    else
      bytes.push(
        0xf0 | (point >> 18),
        0x80 | ((point >> 12) & 0x3f),
        0x80 | ((point >> 6) & 0x3f),
        0x80 | (point & 0x3f),
      );
  }
  return bytes;
}

/** Strict (RFC 3629): overlong forms, surrogates and cut sequences are undefined. */
export function decodeUtf8(bytes: Uint8Array): string | undefined {
  let text = '';
  for (let at = 0; at < bytes.length; ) {
    const lead = bytes[at]!;
    const more = lead < 0x80 ? 0 : lead >= 0xc2 && lead < 0xe0 ? 1 : lead >= 0xe0 && lead < 0xf0 ? 2 : 3;
    if (more === 3 && !(lead >= 0xf0 && lead < 0xf5)) return undefined;
    let point = more === 0 ? lead : lead & (0x3f >> more);
    for (let i = 1; i <= more; i += 1) {
      const next = bytes[at + i];
      if (next === undefined || (next & 0xc0) !== 0x80) return undefined;
      point = point * 64 + (next & 0x3f);
    }
    const least = [0, 0x80, 0x800, 0x10000][more]!;
    if (point < least || point > 0x10ffff || (point >= 0xd800 && point < 0xe000)) return undefined;
    text += String.fromCodePoint(point);
    at += more + 1;
  }
  return text;
}
