// Cuts a byte stream into HCI packets (UART transport "H4", Bluetooth Core 5.3 Vol 4 Part A). Pure.

export interface H4State {
  /** Bytes of a packet that has not come to its end. */
  readonly pending: Uint8Array;
}

export const initialH4State: H4State = { pending: new Uint8Array(0) };

/** Where each packet type keeps its length: header octets after the type, and how to read the payload's length. */
const headers: ReadonlyMap<number, { readonly octets: number; length(packet: Uint8Array): number }> = new Map(
  [
    [0x02, { octets: 4, length: (packet) => packet[3]! | (packet[4]! << 8) }],
    [0x03, { octets: 3, length: (packet) => packet[3]! }],
    [0x04, { octets: 2, length: (packet) => packet[2]! }],
    [0x05, { octets: 4, length: (packet) => (packet[3]! | (packet[4]! << 8)) & 0x3fff }],
  ],
);

/**
 * Takes bytes in any chunking and returns the whole packets, each with its type octet first.
 * A type that no controller sends means that sync is lost: `brokenBy` names it, the packets before it still count,
 * and the stream cannot be trusted after it (the transport must be reset).
 */
export function takeH4(
  state: H4State,
  chunk: Uint8Array,
): { readonly state: H4State; readonly packets: readonly Uint8Array[]; readonly brokenBy: number | null } {
  const bytes = new Uint8Array(state.pending.length + chunk.length);
  bytes.set(state.pending);
  bytes.set(chunk, state.pending.length);
  const packets: Uint8Array[] = [];
  let at = 0;
  while (at < bytes.length) {
    const rest = bytes.subarray(at);
    const header = headers.get(rest[0]!);
    if (header === undefined) {
      return { state: initialH4State, packets, brokenBy: rest[0]! };
    }
    if (rest.length < 1 + header.octets) break;
    const total = 1 + header.octets + header.length(rest);
    if (rest.length < total) break;
    packets.push(rest.slice(0, total));
    at += total;
  }
  return { state: { pending: bytes.slice(at) }, packets, brokenBy: null };
}

/** The kernel's `struct hci_filter`, which a raw socket's owner sets: does it let this packet through? */
export function passesHciFilter(filter: Uint8Array, packet: Uint8Array): boolean {
  if (filter.length < 12) return true;
  const view = new DataView(filter.buffer, filter.byteOffset, filter.byteLength);
  const type = packet[0] ?? 0;
  if ((view.getUint32(0, true) & (1 << type)) === 0) return false;
  if (type !== 0x04) return true;
  const event = packet[1] ?? 0;
  const mask = view.getUint32(event < 32 ? 4 : 8, true);
  return ((mask >>> (event & 31)) & 1) === 1;
}
