// What passes between a hub and a radio on another computer, as JSON text over a socket: numbered items both ways, with
// word of what has been heard, and the questions by which clocks are compared. Neither end trusts the other's text.

import * as z from 'zod/mini';
import { type Said, said, saidSchema } from '../../../../shared/said.ts';
import { idSchema } from '../../../../shared/schema-parts.ts';
import { processMs } from '../../../../shared/units.ts';
import { failed, ok, type Result } from '../../../../src/result.ts';
import type { RadioCommand, RadioEvent } from '../radio.ts';
import type { OutboxLimits } from './numbered-items.ts';

/** Raised with every change that an end of before would not understand. */
export const radioWireVersion = 1;
/** Longest message: the list of everything that a large sensor has is some 60 kB. */
export const mostRadioMessageBytes = 128 * 1024;
export const radioLimits: OutboxLimits = { mostItems: 64, mostBytes: 48 * 1024, mostUnheard: 512 };

const timeSchema = z.number().check(z.gte(0), z.lte(Number.MAX_SAFE_INTEGER));
const numberSchema = z.number().check(z.int(), z.gte(0), z.lte(Number.MAX_SAFE_INTEGER));
const uuidSchema = z.string().check(z.regex(/^[0-9a-f]{4,32}$/));
const linkIdSchema = z.string().check(z.minLength(1), z.maxLength(80));
const peripheralSchema = z.string().check(z.minLength(1), z.maxLength(80));
/** An attribute has at most 512 bytes (Core 5.3 Vol 3 Part F s3.2.9). */
const bytesSchema = z.string().check(z.maxLength(1_024), z.regex(/^(?:[0-9a-f]{2})*$/));
const stampSchema = z.pipe(timeSchema, z.transform(processMs));
const hexSchema = z.pipe(
  bytesSchema,
  z.transform((text) => Uint8Array.from(Buffer.from(text, 'hex'))),
);
/** How deep what is said may be nested; ours is two deep. */
const deepestReason = 4;
/** The words of these codes only put their parts into a sentence, whatever the parts are. */
const plainCodes = /^(?:link|radio)\.|^said\.asTold$/;

/** What a radio says is worded here: only what words cannot stumble over. */
function soundReason({ code, params }: Said, depth = 0): Said {
  if (!plainCodes.test(code) || depth === deepestReason) return said('said.asTold', { text: code });
  return {
    code,
    params: Object.fromEntries(
      Object.entries(params).map(([name, param]) => [
        name,
        typeof param === 'object' ? soundReason(param, depth + 1) : param,
      ]),
    ),
  };
}
const reasonSchema = z.pipe(
  saidSchema,
  z.transform((reason) => soundReason(reason)),
);
const nameSchema = z.nullable(z.string().check(z.maxLength(248)));
const linkSchema = { linkId: linkIdSchema } as const;
const placeSchema = { ...linkSchema, characteristic: uuidSchema } as const;

const radioEventSchema = z.discriminatedUnion('type', [
  z.object({ type: z.literal('on') }),
  z.object({
    type: z.literal('problem'),
    problem: z.enum([
      'noBluetooth',
      'noAdapter',
      'noPermission',
      'adapterOff',
      'unsupported',
      'libraryMissing',
      'radioProcessFailed',
      'noDaemon',
    ]),
    reason: z.nullable(reasonSchema),
  }),
  z.object({
    type: z.literal('advertisement'),
    peripheralId: peripheralSchema,
    name: nameSchema,
    services: z.array(uuidSchema).check(z.maxLength(64)),
    rssiDbm: z.nullable(z.number().check(z.gte(-128), z.lte(127))),
    connectable: z.boolean(),
    atMs: stampSchema,
  }),
  z.object({ type: z.literal('connected'), ...linkSchema }),
  z.object({
    type: z.literal('connectFailed'),
    ...linkSchema,
    reason: reasonSchema,
    isLimit: z.optional(z.boolean()),
  }),
  z.object({
    type: z.literal('discovered'),
    ...linkSchema,
    characteristics: z
      .array(
        z.object({
          service: uuidSchema,
          characteristic: uuidSchema,
          properties: z.array(z.string().check(z.maxLength(40))).check(z.maxLength(16)),
        }),
      )
      .check(z.maxLength(400)),
  }),
  z.object({ type: z.literal('subscribed'), ...placeSchema }),
  z.object({ type: z.literal('readDone'), ...placeSchema, bytes: hexSchema, atMs: stampSchema }),
  z.object({ type: z.literal('written'), ...placeSchema }),
  z.object({
    type: z.literal('notification'),
    ...placeSchema,
    sequence: numberSchema,
    bytes: hexSchema,
    atMs: stampSchema,
  }),
  z.object({
    type: z.literal('stepFailed'),
    ...linkSchema,
    step: z.enum(['discover', 'subscribe', 'read', 'write']),
    reason: reasonSchema,
    refusal: z.optional(z.enum(['refused', 'locked', 'noAnswer', 'missing'])),
  }),
  z.object({ type: z.literal('disconnected'), ...linkSchema, reason: reasonSchema }),
]);

const shortList = z.array(z.string().check(z.maxLength(248))).check(z.maxLength(2_048));
const targetSchema = { ...linkSchema, service: uuidSchema, characteristic: uuidSchema } as const;

const radioCommandSchema = z.discriminatedUnion('type', [
  z.object({ type: z.literal('scan'), on: z.boolean() }),
  z.object({
    type: z.literal('interest'),
    interest: z.object({ services: shortList, namePrefixes: shortList, peripheralIds: shortList }),
  }),
  z.object({ type: z.literal('connect'), ...linkSchema, peripheralId: peripheralSchema }),
  z.object({ type: z.literal('cancelConnect'), ...linkSchema }),
  z.object({ type: z.literal('discover'), ...linkSchema, services: shortList }),
  z.object({ type: z.literal('subscribe'), ...targetSchema }),
  z.object({ type: z.literal('read'), ...targetSchema }),
  z.object({ type: z.literal('write'), ...targetSchema, bytes: hexSchema, withResponse: z.boolean() }),
  z.object({ type: z.literal('disconnect'), ...linkSchema }),
  /** Begin anew, links and all. */
  z.object({ type: z.literal('restart') }),
]);
export type RadioOrder = RadioCommand | { readonly type: 'restart' };

const itemsOf = <Schema extends z.ZodMiniType>(item: Schema) => ({
  type: z.literal('items'),
  /** Number of the first, counted from 1 since the radio was last begun anew. */
  first: numberSchema,
  items: z.array(item).check(z.maxLength(radioLimits.mostItems)),
});

const fromRadioSchema = z.discriminatedUnion('type', [
  z.object({
    type: z.literal('hello'),
    version: numberSchema,
    /** Of the hub process that the radio's links and numbers belong to; null where there is none. */
    hubRunId: z.nullable(idSchema),
    /** The last number that it has heard from that hub. */
    heard: numberSchema,
    /** Packets that there was no room for since it was begun anew. */
    lost: numberSchema,
  }),
  z.object({ type: z.literal('pong'), askedAtMs: timeSchema, answeredAtMs: timeSchema }),
  z.object({ type: z.literal('heard'), upTo: numberSchema }),
  z.object(itemsOf(radioEventSchema)),
]);
export type FromRadio = z.infer<typeof fromRadioSchema>;

const toRadioSchema = z.discriminatedUnion('type', [
  z.object({
    type: z.literal('welcome'),
    version: numberSchema,
    hubRunId: idSchema,
    /** False: whatever the radio has is of a past that the hub knows nothing of. */
    resumes: z.boolean(),
    heard: numberSchema,
  }),
  z.object({ type: z.literal('ping'), askedAtMs: timeSchema }),
  /** The clocks have been compared: what was kept may come. */
  z.object({ type: z.literal('ready') }),
  z.object({ type: z.literal('heard'), upTo: numberSchema }),
  z.object(itemsOf(radioCommandSchema)),
  /** From now on the hub shows another certificate. */
  z.object({
    type: z.literal('certificate'),
    fingerprintSha256: z.string().check(z.regex(/^(?:[0-9A-F]{2}:){31}[0-9A-F]{2}$/)),
  }),
]);
export type ToRadio = z.infer<typeof toRadioSchema>;

export const radioText = (message: Exclude<FromRadio | ToRadio, { type: 'items' }>): string =>
  JSON.stringify(message);

/** Items as text for the socket: bytes in hexadecimal. */
export const itemsText = (first: number, items: readonly (RadioEvent | RadioOrder)[]): string =>
  JSON.stringify({ type: 'items', first, items }, (_key, value: unknown) =>
    value instanceof Uint8Array ? Buffer.from(value).toString('hex') : value,
  );

function read<Schema extends z.ZodMiniType>(schema: Schema, text: string): Result<z.output<Schema>, string> {
  if (text.length > mostRadioMessageBytes) return failed('tooLong');
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return failed('noJson');
  }
  const checked = z.safeParse(schema, value);
  return checked.success ? ok(checked.data) : failed(checked.error.issues[0]?.path.join('.') ?? 'shape');
}

/** What a radio elsewhere can tell: pairing is asked for and answered on one computer only. */
const toldElsewhere = new Set<string>(
  radioEventSchema.def.options.map((option) => option.shape.type.def.values[0]!),
);
export const isToldElsewhere = ({ type }: RadioEvent): boolean => toldElsewhere.has(type);

/** What an item takes in a message, about. */
export const bytesOfItem = (item: RadioEvent | RadioOrder): number => itemsText(0, [item]).length;

/** What came from a radio; the reason names what of it has another shape. */
export const readFromRadio = (text: string): Result<FromRadio, string> => read(fromRadioSchema, text);
export const readToRadio = (text: string): Result<ToRadio, string> => read(toRadioSchema, text);

/** An end of the socket, as both sides use it. */
export interface RadioLine {
  send(text: string): void;
  /** Ends the connection; whoever has the line hears of it as of any other end. */
  cut(): void;
}
