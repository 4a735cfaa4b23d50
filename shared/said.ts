// What the hub and the core have to say to a person: a code and what it is filled with. Whoever shows it words it in
// the reader's language (`shared/words/`), so that a stored or sent fact is in no language at all.

import * as z from 'zod/mini';
import type { SaidWords } from './words/en.ts';

export interface Said {
  readonly code: string;
  readonly params: Readonly<Record<string, SaidParam>>;
}

/** A part of a sentence that is itself said is worded first. */
export type SaidParam = string | number | boolean | Said;

export type SaidCode = keyof SaidWords;

type Given<Param> = Param extends string ? Param | Said : Param;
type ParamsOf<Code extends SaidCode> = SaidWords[Code] extends (
  params: infer Params,
  ...rest: never
) => string
  ? { readonly [Name in keyof Params]: Given<Params[Name]> }
  : Record<string, never>;

/** Says `code`, filled with what its wording in `shared/words/en.ts` asks for. */
export function said<Code extends SaidCode>(
  code: Code,
  ...[params]: SaidWords[Code] extends string ? [] : [params: ParamsOf<Code>]
): Said {
  return { code, params: params ?? {} };
}

/** The same, to the last parameter. */
export const isSameSaid = (one: Said | null, other: Said | null): boolean =>
  JSON.stringify(one) === JSON.stringify(other);

/** What the hub says where a change stands in its memory only, over the socket and over HTTP. */
export const notSavedYetCode = 'refusal.notSavedYet';

const longestCode = 80;
const longestParam = 2_000;

export const saidSchema: z.ZodMiniType<Said> = z.object({
  code: z.string().check(z.minLength(1), z.maxLength(longestCode)),
  params: z.record(
    z.string().check(z.maxLength(longestCode)),
    z.union([
      z.string().check(z.maxLength(longestParam)),
      z.number(),
      z.boolean(),
      z.lazy((): z.ZodMiniType<Said> => saidSchema),
    ]),
  ),
});
