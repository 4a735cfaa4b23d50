// The code by which people compare the hub's certificate: short enough to be read aloud, and a part of what browsers show, so
// that it can be looked for in the browser's own view of the certificate.

/**
 * The first 16 hex digits of the certificate's SHA-256 in four groups: "9F3A 07C1 55DE B20A". 64 bits: who wants another
 * certificate with the same has to try 2^64 = 1.8 x 10^19 on average, some 58 years at 10^10 tries a second (our assumption
 * for one graphics processor), two days with ten thousand of them. Of two groups alone (32 bits): half a second.
 * `fingerprintSha256`: pairs of hex digits with colons.
 */
export function comparisonCode(fingerprintSha256: string): string {
  const digits = fingerprintSha256.replaceAll(':', '').toUpperCase().slice(0, 16);
  return digits.replaceAll(/(.{4})(?=.)/g, '$1 ');
}
