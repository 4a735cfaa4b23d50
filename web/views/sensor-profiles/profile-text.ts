// A profile's text as the form changes it: one value at a time, comments and order left as they are; its undo; and its name as a file.

import { applyEdits, type JSONPath, modify, parse } from 'jsonc-parser';

/** The text with one value set, or taken away where it is undefined. */
export function withValue(text: string, path: JSONPath, value: unknown): string {
  try {
    return applyEdits(
      text,
      modify(text, path, value, { formattingOptions: { insertSpaces: true, tabSize: 2, eol: '\n' } }),
    );
  } catch {
    // Text that is no JSON has no place to put it.
    return text;
  }
}

/** With one more field at the end. */
export const withField = (text: string, field: object): string => withValue(text, ['fields', -1], field);

/** What the text says as far as it can be read; an empty object where it can't. */
export function looseValue(text: string): Readonly<Record<string, unknown>> {
  const value: unknown = parse(text, [], { allowTrailingComma: true });
  return typeof value === 'object' && value !== null && !Array.isArray(value)
    ? (value as Readonly<Record<string, unknown>>)
    : {};
}

/** The part of a loose value at a path; undefined where there is none. */
export function partOf(value: unknown, path: JSONPath): unknown {
  return path.reduce<unknown>(
    (part, key) =>
      typeof part === 'object' && part !== null ? (part as Record<string | number, unknown>)[key] : undefined,
    value,
  );
}

export interface TextHistory {
  readonly past: readonly string[];
  readonly text: string;
  readonly future: readonly string[];
}

const mostSteps = 200;

export const begun = (text: string): TextHistory => ({ past: [], text, future: [] });

/** `joins`: goes on with the step before, as typing does. */
export function changed(history: TextHistory, text: string, joins = false): TextHistory {
  if (text === history.text) return history;
  const past =
    joins && history.past.length > 0 ? history.past : [...history.past, history.text].slice(-mostSteps);
  return { past, text, future: [] };
}

export function undone({ past, text, future }: TextHistory): TextHistory {
  const before = past.at(-1);
  return before === undefined
    ? { past, text, future }
    : { past: past.slice(0, -1), text: before, future: [text, ...future] };
}

export function redone({ past, text, future }: TextHistory): TextHistory {
  const [next, ...rest] = future;
  return next === undefined ? { past, text, future } : { past: [...past, text], text: next, future: rest };
}

/** `My patch 2` becomes `my-patch-2.json`. */
export function fileNameOf(name: string): string {
  const plain = name
    .normalize('NFKD')
    .toLowerCase()
    .replaceAll(/[^a-z0-9]+/g, '-')
    .replaceAll(/^-+|-+$/g, '')
    .slice(0, 50);
  return `${plain === '' ? 'sensor' : plain}.json`;
}

/** What a new profile begins with: valid as soon as its places are filled in. */
export const freshProfile = (name: string, service: string, notify: string): string => `{
  "profile": 1,
  "name": ${JSON.stringify(name)},
  "measures": ["oximeter"],
  "match": { "namePrefix": ${JSON.stringify(name.slice(0, 12) || 'Name')} },
  "link": {
    "service": ${JSON.stringify(service)},
    "notify": ${JSON.stringify(notify)}
  },
  "fields": [
    { "gives": "spo2Percent", "at": 0 }
  ]
}
`;
