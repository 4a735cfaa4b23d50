// UUIDs in one spelling: lower case without dashes, and the four-digit form for a number assigned by the Bluetooth SIG.

/** Bluetooth Core 5.3 Vol 3 Part B s2.5.1: the base UUID that 16-bit numbers are shorthand for. */
const baseTail = '00001000800000805f9b34fb';

/** Shortens `0000180D-0000-1000-8000-00805F9B34FB` to `180d`; anything else is lower-cased and freed of dashes. */
export function shortUuid(uuid: string): string {
  const plain = uuid.toLowerCase().replaceAll('-', '');
  if (plain.length === 32 && plain.startsWith('0000') && plain.endsWith(baseTail)) return plain.slice(4, 8);
  if (plain.length === 8 && plain.startsWith('0000')) return plain.slice(4);
  return plain;
}

/** True for four or 32 hexadecimal digits, after `shortUuid`. */
export const isUuid = (uuid: string): boolean => /^(?:[0-9a-f]{4}|[0-9a-f]{32})$/.test(uuid);
