// The parts of a session file from their text: each is answered with its value or with one clause that says what is wrong.
// Nothing here throws, whatever the text is.

import type * as z from 'zod/mini';
import { type Said, said } from '../../../shared/said.ts';
import { jsonFault } from '../../plans/json-fault.ts';
import { failed, ok, type Result } from '../../result.ts';
import {
  fileNames,
  manifestSchema,
  type SessionContent,
  type SessionManifest,
  segmentName,
  sessionEventsSchema,
  sessionFileFormat,
  sessionFileVersion,
  sessionHeadSchema,
  sessionPlansSchema,
} from './session-content.ts';

/** A session's rare events are some kilobytes an hour; text beyond this is made to be hard to read. */
export const mostTextBytes = 32 * 2 ** 20;

/** Undefined for what does not say that it is a session file: then it is another program's archive. */
export function readManifest(text: string): Result<SessionManifest, Said> | undefined {
  const value = jsonOf(text);
  if (typeof value !== 'object' || value === null) return undefined;
  const { format, version } = value as { readonly format?: unknown; readonly version?: unknown };
  if (format !== sessionFileFormat) return undefined;
  // Before its shape: a newer one may look different altogether.
  if (typeof version === 'number' && version > sessionFileVersion)
    return failed(said('sessionFile.newer', { version, most: sessionFileVersion }));
  const checked = manifestSchema.safeParse(value);
  if (!checked.success) return failed(contentFault(fileNames.manifest, checked.error));
  const { files } = checked.data;
  const expected = [fileNames.head, fileNames.events, fileNames.plans];
  for (const [index, { name }] of files.entries()) {
    const wanted = expected[index] ?? segmentName(index - expected.length);
    if (name !== wanted)
      return failed(
        index < expected.length
          ? said('sessionFile.missing', { name: wanted })
          : said('sessionFile.unknownPart', { name: shown(name) }),
      );
  }
  return ok(checked.data);
}

/** The three texts of a file, as they stand. */
export function readContent(
  manifest: SessionManifest,
  texts: { readonly head: string; readonly events: string; readonly plans: string },
): Result<SessionContent, Said> {
  const head = checkedPart(fileNames.head, sessionHeadSchema, texts.head);
  if (!head.ok) return head;
  const events = checkedPart(fileNames.events, sessionEventsSchema, texts.events);
  if (!events.ok) return events;
  const plans = checkedPart(fileNames.plans, sessionPlansSchema, texts.plans);
  if (!plans.ok) return plans;
  if (head.value.simulated !== manifest.simulated) return failed(said('sessionFile.disagrees'));
  return ok({ head: head.value, events: events.value, plans: plans.value });
}

function checkedPart<Schema extends z.ZodMiniType>(
  name: string,
  schema: Schema,
  text: string,
): Result<z.output<Schema>, Said> {
  const value = jsonOf(text);
  if (value === undefined) return failed(said('sessionFile.notJson', { name }));
  const checked = schema.safeParse(value);
  return checked.success ? ok(checked.data) : failed(contentFault(name, checked.error));
}

/** The first thing that is wrong, with its place: "events.json, holds[2].hold.start.atMs: must be a number". */
export function contentFault(name: string, error: z.core.$ZodError): Said {
  const issue = error.issues[0];
  const place = (issue?.path ?? [])
    .map((step) => (typeof step === 'number' ? `[${step}]` : `.${shown(String(step))}`))
    .join('')
    .replace(/^\./, '');
  return said('sessionFile.field', {
    name,
    place: place === '' ? '-' : place,
    fault: issue === undefined ? said('json.invalid') : jsonFault(issue),
  });
}

/** Far deeper than anything here. What is nested deeper would exhaust the readers, which go down with it. */
const mostNested = 64;

/** Undefined for what is no JSON, or nested without end. */
function jsonOf(text: string): unknown {
  if (nestingOf(text) > mostNested) return undefined;
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return undefined;
  }
}

/** How deep brackets stand in one another, those inside strings left out. */
function nestingOf(text: string): number {
  let depth = 0;
  let deepest = 0;
  let isString = false;
  for (let at = 0; at < text.length; at += 1) {
    const letter = text[at];
    if (isString) {
      if (letter === '\\') at += 1;
      else if (letter === '"') isString = false;
    } else if (letter === '"') isString = true;
    else if (letter === '[' || letter === '{') {
      depth += 1;
      deepest = Math.max(deepest, depth);
    } else if (letter === ']' || letter === '}') depth -= 1;
  }
  return deepest;
}

/** A piece of someone's file, short and without control characters. */
function shown(text: string): string {
  const plain = text.replace(/\p{C}/gu, '?');
  return plain.length > 40 ? `${plain.slice(0, 40)}...` : plain;
}
