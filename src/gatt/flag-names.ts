// Bit fields as lists of names: the table's index is the bit, null a bit reserved for future use.

const none: readonly never[] = [];

/** Names of the set bits in rising order; reserved bits are left out. */
export function namesOfSetBits<Name extends string>(
  bits: number,
  table: readonly (Name | null)[],
): readonly Name[] {
  if (bits === 0) return none;
  const names: Name[] = [];
  for (let bit = 0; bit < table.length; bit += 1) {
    const name = table[bit];
    if (name !== undefined && name !== null && (bits & (1 << bit)) !== 0) names.push(name);
  }
  return names;
}
