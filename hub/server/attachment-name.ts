// The header that gives a downloaded file its name.

/** With the name in letters of every script (RFC 6266 section 4.3), and one of ASCII for what knows no other. */
export function attachmentNamed(name: string): string {
  const plain = name
    .normalize('NFKD')
    .replaceAll(/\p{M}/gu, '')
    .replaceAll(/[^\x20-\x7e]/g, '_');
  const whole = encodeURIComponent(name).replaceAll(
    /['()*]/g,
    (letter) => `%${letter.charCodeAt(0).toString(16)}`,
  );
  return `attachment; filename="${plain}"${plain === name ? '' : `; filename*=UTF-8''${whole}`}`;
}
