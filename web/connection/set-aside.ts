// Reads what came from the hub even where a record in one of its lists is not as the contract says: that one is set
// aside, and the rest is shown.

import type * as z from 'zod/mini';

export interface ReadAside<Value> {
  readonly value: Value;
  /** "athletes.3.name" of each record that was left out. */
  readonly setAside: readonly string[];
}

/** The checked value; undefined where more is wrong than single records of the lists at its top that may miss some. */
export function readSettingAside<Schema extends z.ZodMiniType>(
  schema: Schema,
  given: unknown,
  mayMiss: (list: string) => boolean = () => true,
): ReadAside<z.output<Schema>> | undefined {
  const checked = schema.safeParse(given);
  if (checked.success) return { value: checked.data, setAside: [] };
  if (typeof given !== 'object' || given === null) return undefined;
  const bad = new Map<string, Set<number>>();
  const setAside: string[] = [];
  for (const { path } of checked.error.issues) {
    const [list, index] = path;
    if (typeof list !== 'string' || typeof index !== 'number' || !mayMiss(list)) return undefined;
    const before = bad.get(list) ?? new Set<number>();
    if (!before.has(index)) setAside.push(path.join('.'));
    bad.set(list, before.add(index));
  }
  const rest: Record<string, unknown> = { ...given };
  for (const [list, indexes] of bad)
    rest[list] = (rest[list] as readonly unknown[]).filter((_record, index) => !indexes.has(index));
  const again = schema.safeParse(rest);
  return again.success ? { value: again.data, setAside } : undefined;
}
