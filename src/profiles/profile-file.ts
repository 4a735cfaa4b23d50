// A sensor profile's file: JSON with comments, checked to the last field. Every complaint names its line and column.

import { findNodeAtLocation, type Node, type ParseError, parseTree, printParseErrorCode } from 'jsonc-parser';
import * as z from 'zod';
import { type Said, said } from '../../shared/said.ts';
import { characteristicNumbers } from '../gatt/decode-packet.ts';
import { jsonFault } from '../plans/json-fault.ts';
import { failed, ok, type Result } from '../result.ts';
import type { CrcParameters } from './checksum.ts';
import { endOf } from './field-bits.ts';
import { longestFrame } from './frame-cutter.ts';
import {
  checksumKinds,
  isWave,
  numberSizes,
  numberTypes,
  type ProfileField,
  profileAsides,
  profileChannels,
  profileFlags,
  profileSources,
  type SensorProfile,
} from './sensor-profile.ts';
import { isUuid, shortUuid } from './uuid.ts';

export interface ProfileProblem {
  readonly line: number;
  readonly column: number;
  /** Where in the profile, such as `fields[2].at`; empty for the file as a whole. */
  readonly place: string;
  readonly reason: Said;
}

/** What is wrong, beside the issue that zod makes of it. */
const fault = (what: Said): { readonly said: Said } => ({ said: what });

/** Larger than any profile; a file beyond it is something else. */
const mostCharacters = 200_000;

const uuidSchema = z
  .string()
  .transform(shortUuid)
  .refine(isUuid, { params: fault(said('profile.notUuid')) });
const bytesSchema = z
  .string()
  .transform((text) => text.replaceAll(/[\s:]/g, ''))
  .refine((text) => /^(?:[0-9a-fA-F]{2}){1,64}$/.test(text), {
    params: fault(said('profile.notHex')),
  })
  .transform((text) => Uint8Array.from(text.match(/../g)!, (pair) => Number.parseInt(pair, 16)));
const whole = (least: number, most: number) => z.number().int().min(least).max(most);
const index = whole(0, longestFrame - 1);
const byte = whole(0, 255);
const bitsSchema = z.tuple([whole(0, 31), whole(0, 31)]);
const byteBitsSchema = z
  .tuple([whole(0, 7), whole(0, 7)])
  .refine(([low, high]) => low <= high, { params: fault(said('profile.bits', { most: 7 })) });
/** Bytes by bytes, as JSON has keys: "220" or "0xdc". */
const byteTable = (most: number) =>
  z
    .record(z.string(), whole(0, most))
    .refine(
      (table) =>
        Object.keys(table).every((key) => /^(?:\d{1,3}|0x[0-9a-fA-F]{1,2})$/.test(key) && Number(key) <= 255),
      {
        params: fault(said('profile.notByteTable')),
      },
    )
    .transform((table) =>
      Object.fromEntries(Object.entries(table).map(([key, value]) => [Number(key), value])),
    );
const commandSchema = z.strictObject({
  characteristic: uuidSchema,
  bytes: bytesSchema,
  withResponse: z.boolean().default(true),
});

const fieldSchema = z.strictObject({
  gives: z.enum([...profileChannels, ...profileSources, ...profileFlags, ...profileAsides]),
  at: index.default(0),
  type: z.enum(numberTypes).default('u8'),
  bits: bitsSchema.nullable().default(null),
  parts: z
    .array(z.strictObject({ at: index, bits: byteBitsSchema.default([0, 7]) }))
    .min(1)
    .max(8)
    .optional(),
  signed: z.boolean().optional(),
  inverted: z.boolean().optional(),
  is: z.array(z.number().int()).min(1).max(256).optional(),
  from: uuidSchema.optional(),
  scale: z
    .number()
    .refine((scale) => scale !== 0, { params: fault(said('profile.zero')) })
    .default(1),
  offset: z.number().default(0),
  invalid: z.array(z.number()).max(256).default([]),
  count: z.union([whole(1, 128), z.literal('rest')]).default(1),
  stride: whole(1, 64).optional(),
  rateHz: z.number().positive().max(2_000).nullable().default(null),
  when: z
    .strictObject({ at: index, is: whole(0, 255), mask: whole(1, 255).optional() })
    .nullable()
    .default(null),
});

const frameSchema = z.strictObject({
  sync: bytesSchema,
  syncMask: bytesSchema.optional(),
  escape: z
    .union([
      z.strictObject({ mark: byte, xor: byte }),
      z.strictObject({ mark: byte, stands: byteTable(255) }),
    ])
    .optional(),
  length: z.union([
    z.strictObject({ fixed: whole(1, longestFrame) }),
    z.strictObject({
      at: index,
      plus: whole(-16, 64).default(0),
      most: whole(1, longestFrame).default(256),
    }),
    z.strictObject({ at: index, sizes: byteTable(longestFrame) }),
    z.strictObject({
      until: bytesSchema.refine((bytes) => bytes.length <= 4, { params: fault(said('profile.endMark')) }),
      most: whole(2, longestFrame).default(256),
    }),
  ]),
  checksum: z
    .strictObject({
      kind: z.enum(checksumKinds),
      from: index.default(0),
      fromEnd: whole(1, 16).optional(),
      polynomial: whole(0, 0xffff).optional(),
      initial: whole(0, 0xffff).optional(),
      final: whole(0, 0xffff).optional(),
      reflected: z.boolean().optional(),
      lowByteFirst: z.boolean().optional(),
    })
    .transform(({ kind, from, fromEnd, lowByteFirst, ...parameters }) => ({
      kind,
      from,
      fromEnd: fromEnd ?? (kind === 'crc16' ? 2 : 1),
      ...(lowByteFirst === undefined ? {} : { lowByteFirst }),
      ...(Object.keys(parameters).length === 0 ? {} : { parameters: parameters as Partial<CrcParameters> }),
    }))
    .nullable()
    .default(null),
});

const profileSchema = z
  .strictObject({
    profile: z.literal(1),
    name: z.string().min(1).max(80),
    measures: z.array(z.enum(['heartRate', 'oximeter', 'breathing'])).min(1),
    match: z
      .strictObject({
        services: z.array(uuidSchema).max(8).default([]),
        namePrefix: z.string().min(2).max(40).nullable().default(null),
      })
      .refine((match) => match.services.length > 0 || match.namePrefix !== null, {
        params: fault(said('profile.unrecognisable')),
      }),
    link: z.strictObject({
      service: uuidSchema,
      notify: uuidSchema,
      also: z
        .array(z.strictObject({ notify: uuidSchema, frame: frameSchema.nullable().default(null) }))
        .max(4)
        .optional(),
      start: z.array(commandSchema).max(8).default([]),
      stop: z.array(commandSchema).max(8).optional(),
      keepAlive: commandSchema.extend({ everyMs: whole(1_000, 600_000) }).optional(),
    }),
    frame: frameSchema.nullable().default(null),
    fields: z.array(fieldSchema).min(1).max(64),
  })
  .superRefine((profile, context) => {
    const complain: Complain = (path, what) =>
      context.addIssue({ code: 'custom', path, params: fault(what) });
    const framings = [
      { notify: profile.link.notify, frame: profile.frame, path: ['frame'] as (string | number)[] },
      ...(profile.link.also ?? []).map(({ notify, frame }, number) => ({
        notify,
        frame,
        path: ['link', 'also', number, 'frame'],
      })),
    ];
    for (const [number, { notify, frame, path }] of framings.entries()) {
      if (frame !== null) checkFrame(frame, path, complain);
      if (!readByTheStandard.includes(notify)) continue;
      const place = number === 0 ? ['link', 'notify'] : ['link', 'also', number - 1, 'notify'];
      complain(place, said('profile.standardCharacteristic'));
    }
    for (const [number, field] of profile.fields.entries()) {
      const framing = framings.find(({ notify }) => notify === (field.from ?? profile.link.notify));
      if (framing === undefined) complain(['fields', number, 'from'], said('profile.unknownSource'));
      const rule = framing?.frame?.length;
      const fixed = rule !== undefined && 'fixed' in rule ? rule.fixed : null;
      checkField(field, number, fixed, complain);
    }
    if (profile.fields.filter((field) => field.gives === 'counter').length > 1) {
      complain(['fields'], said('profile.oneCounter'));
    }
    const readings: readonly string[] = [...profileChannels, ...profileSources];
    if (!profile.fields.some((field) => readings.includes(field.gives))) {
      complain(['fields'], said('profile.noReading', { channels: readings.join(', ') }));
    }
  });

/** Packets tell their characteristic and nothing else of who sent them: these are other sensors' too. */
const readByTheStandard: readonly string[] = Object.values(characteristicNumbers);

type Complain = (path: (string | number)[], what: Said) => void;

/** What the parts of a field ask of each other; `fixed` where its frames all have as many bytes. */
function checkField(field: ProfileField, number: number, fixed: number | null, complain: Complain): void {
  const bits = 8 * numberSizes[field.type];
  if (field.bits !== null && (field.bits[0] > field.bits[1] || field.bits[1] >= bits)) {
    complain(['fields', number, 'bits'], said('profile.bits', { most: bits - 1 }));
  }
  if (fixed !== null && endOf(field) > fixed) {
    complain(['fields', number, 'at'], said('profile.outsideFrame', { bytes: fixed }));
  }
  if (field.parts !== undefined && (field.bits !== null || field.count !== 1)) {
    complain(['fields', number, 'parts'], said('profile.partsAlone'));
  }
  if (field.when?.mask !== undefined && (field.when.is & ~field.when.mask) !== 0) {
    complain(['fields', number, 'when'], said('profile.maskLeavesOut'));
  }
  // A breathing channel may come once in a frame, as slow bands send it.
  if (
    isWave(field.gives) &&
    field.rateHz === null &&
    (field.gives !== 'respirationRaw' || field.count !== 1)
  ) {
    complain(['fields', number], said('profile.waveformRate'));
  }
  if (field.gives === 'ecg' && field.rateHz !== null && field.rateHz < 80) {
    complain(['fields', number, 'rateHz'], said('profile.slowEcg', { hz: 80 }));
  }
  if (!isWave(field.gives) && field.gives !== 'rrIntervalMs' && field.count !== 1) {
    complain(['fields', number, 'count'], said('profile.onlyWaveformCounts'));
  }
}

/** What the parts of a framing ask of each other. */
function checkFrame(
  frame: z.infer<typeof frameSchema>,
  path: readonly (string | number)[],
  complain: Complain,
): void {
  const { sync, syncMask, checksum, length } = frame;
  const fixed = 'fixed' in length ? length.fixed : null;
  if (fixed !== null && fixed <= sync.length) {
    complain([...path, 'length', 'fixed'], said('profile.notLongerThanSync'));
  }
  if (fixed !== null && checksum && checksum.from >= fixed - checksum.fromEnd) {
    complain([...path, 'checksum', 'from'], said('profile.notBeforeChecksum'));
  }
  if (syncMask !== undefined && syncMask.length !== sync.length) {
    complain([...path, 'syncMask'], said('profile.maskLength'));
  } else if (syncMask?.some((mask, at) => (sync[at]! & ~mask) !== 0)) {
    complain([...path, 'syncMask'], said('profile.maskLeavesOut'));
  }
}

/** Reads a profile from a file's text. All problems at once, in the order of the file. */
export function parseProfile(text: string): Result<SensorProfile, readonly ProfileProblem[]> {
  if (text.length > mostCharacters) {
    return failed([{ line: 1, column: 1, place: '', reason: said('profile.tooLarge') }]);
  }
  const errors: ParseError[] = [];
  const tree = parseTree(text.replace(/^\uFEFF/, ' '), errors, { allowTrailingComma: true });
  if (errors.length > 0 || tree === undefined) {
    const at = errors[0] === undefined ? { line: 1, column: 1 } : lineAndColumn(text, errors[0].offset);
    const what =
      errors[0] === undefined
        ? said('profile.empty')
        : said('profile.notJson', { fault: words(printParseErrorCode(errors[0].error)) });
    return failed([{ ...at, place: '', reason: what }]);
  }
  const checked = profileSchema.safeParse(plainValue(tree), { reportInput: true });
  if (checked.success) {
    const { profile: _version, ...profile } = checked.data;
    return ok(profile);
  }
  const problems = checked.error.issues.map((issue) => {
    const path = issue.path as (string | number)[];
    const unknownKey = issue.code === 'unrecognized_keys' ? issue.keys[0] : undefined;
    const node = nearest(tree, unknownKey === undefined ? path : [...path, unknownKey]);
    return {
      ...lineAndColumn(text, node.offset),
      place: placeName(path),
      reason: reasonOf(issue),
    };
  });
  return failed(problems.toSorted((a, b) => a.line - b.line || a.column - b.column));
}

/** `file:line:column place: reason`, as editors understand it. */
export function profileProblemSaid(file: string, { line, column, place, reason }: ProfileProblem): Said {
  return place === ''
    ? said('profile.problem', { file, line, column, reason })
    : said('profile.problemAt', { file, line, column, place, reason });
}

/** Plain objects without a prototype's names, so that no key of a file can be mistaken for one. */
function plainValue(node: Node): unknown {
  if (node.type === 'array') return (node.children ?? []).map(plainValue);
  if (node.type !== 'object') return node.value;
  const object: Record<string, unknown> = {};
  for (const property of node.children ?? []) {
    const [key, value] = property.children ?? [];
    if (key !== undefined && value !== undefined) {
      Object.defineProperty(object, String(key.value), { value: plainValue(value), enumerable: true });
    }
  }
  return object;
}

function reasonOf(issue: z.core.$ZodIssue): Said {
  if (issue.code === 'custom') return (issue.params as { readonly said: Said }).said;
  if (issue.code === 'unrecognized_keys')
    return said('profile.unknownKeys', { keys: issue.keys.map((key) => `"${key}"`).join(', ') });
  if (issue.code === 'invalid_type' && issue.input === undefined) return said('json.missing');
  return issue.path[0] === 'profile' ? said('profile.version') : jsonFault(issue);
}

/** The node a path leads to, or the last one on the way where the rest is missing. */
function nearest(tree: Node, path: (string | number)[]): Node {
  for (let length = path.length; length > 0; length -= 1) {
    const node = findNodeAtLocation(tree, path.slice(0, length));
    if (node !== undefined) return node;
  }
  return tree;
}

const placeName = (path: readonly (string | number)[]): string =>
  path.map((part, at) => (typeof part === 'number' ? `[${part}]` : at === 0 ? part : `.${part}`)).join('');

function lineAndColumn(text: string, offset: number): { line: number; column: number } {
  const lines = text.slice(0, offset).split(/\r\n|\r|\n/);
  return { line: lines.length, column: lines.at(-1)!.length + 1 };
}

const words = (code: string): string => code.replaceAll(/([a-z])([A-Z])/g, '$1 $2').toLowerCase();
