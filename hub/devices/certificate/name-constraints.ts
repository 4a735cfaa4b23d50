// For whom the hub's own authority may sign: the hub's names and the addresses of private networks, and nothing else
// (RFC 5280 s4.2.1.10). Written in DER by hand: the certificate library has no such extension.

/** X.690 s8.1.3: the contents' length is below 65,536 here. */
function der(tag: number, ...contents: readonly Buffer[]): Buffer {
  const length = contents.reduce((sum, { byteLength }) => sum + byteLength, 0);
  const head =
    length < 0x80 ? [length] : length < 0x100 ? [0x81, length] : [0x82, length >> 8, length & 0xff];
  return Buffer.concat([Buffer.from([tag, ...head]), ...contents]);
}

const sequence = 0x30;
/** [0] permittedSubtrees, constructed. */
const permitted = 0xa0;
/** GeneralName: [2] dNSName, [7] iPAddress. */
const dnsName = 0x82;
const ipAddress = 0x87;

export const nameConstraintsOid = '2.5.29.30';

/**
 * Addresses as first octets and length of the prefix. RFC 1918, RFC 3927 (link-local), RFC 1122 s3.2.1.3 (loopback). IPv6
 * is none of them and so not permitted.
 */
const privateNetworks: readonly (readonly [readonly [number, number, number, number], number])[] = [
  [[10, 0, 0, 0], 8],
  [[172, 16, 0, 0], 12],
  [[192, 168, 0, 0], 16],
  [[169, 254, 0, 0], 16],
  [[127, 0, 0, 0], 8],
];

const maskOf = (bits: number): number[] =>
  [0, 8, 16, 24].map((before) => (0xff << (8 - Math.min(8, Math.max(0, bits - before)))) & 0xff);

/** The extension's value. `names` permit themselves and what lies under them. */
export function nameConstraints(names: readonly string[]): Buffer {
  const subtrees = [
    ...names.map((name) => der(dnsName, Buffer.from(name, 'ascii'))),
    ...privateNetworks.map(([address, bits]) => der(ipAddress, Buffer.from([...address, ...maskOf(bits)]))),
  ];
  return der(sequence, der(permitted, ...subtrees.map((name) => der(sequence, name))));
}

/** Whether the constraints in this certificate, one of ours, name `name`. */
export const isPermittedName = (certificateDer: Buffer, name: string): boolean =>
  certificateDer.includes(der(sequence, der(dnsName, Buffer.from(name, 'ascii'))));

/** Whether an authority with these constraints may vouch for this IPv4 address. */
export function isPermittedAddress(address: string): boolean {
  const octets = address.split('.').map(Number);
  return (
    octets.length === 4 &&
    privateNetworks.some(([network, bits]) =>
      maskOf(bits).every((mask, at) => ((octets[at] ?? -1) & mask) === network[at]),
    )
  );
}
