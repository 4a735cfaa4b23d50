// The subjects on which hubs and a school talk. A hub writes below its own `from` only and hears its own `to` only, which
// the server's permissions hold (hub/school/server-config.ts): the name in a subject is who wrote, whatever a body says.

import * as z from 'zod/mini';

/** A name of a school or a hub: one token of a subject, a part of a file name. */
export const schoolNameSchema = z.string().check(z.regex(/^[a-z0-9][a-z0-9-]{0,39}$/));

/** What a hub sends to be kept. Everything here goes through the stream and is acknowledged. */
export const keptKinds = ['segment', 'told', 'list'] as const;
export type KeptKind = (typeof keptKinds)[number];

/** What a hub asks the school, answered while it runs. */
export type HubQuestion = 'hello' | 'have' | 'sums' | 'erased';
/** What a school asks a hub. */
export type SchoolQuestion = 'welcome' | 'do';

/** Of a hub, made once and kept in its data folder: two hubs under one name are told apart by it. */
export const hubIdSchema = z.string().check(z.regex(/^[0-9a-f]{24}$/));

/** Who a hub is: its name at the school, and its id. */
export interface HubIdentity {
  readonly hub: string;
  readonly hubId: string;
}

const root = (school: string): string => `slackwater.${school}`;
const from = (school: string, { hub, hubId }: HubIdentity, what: string): string =>
  `${root(school)}.from.${hub}.${what}.${hubId}`;

export const subjects = {
  kept: (school: string, who: HubIdentity, kind: KeptKind): string => from(school, who, `kept.${kind}`),
  everyKept: (school: string): string => `${root(school)}.from.*.kept.*.*`,
  keptOf: (school: string, hub: string): string => `${root(school)}.from.${hub}.kept.>`,
  /** `text`: a message of the wire; `frame`: a live frame. Lost when nobody hears it. */
  live: (school: string, who: HubIdentity, kind: 'text' | 'frame'): string =>
    from(school, who, `live.${kind}`),
  everyLive: (school: string): string => `${root(school)}.from.*.live.*.*`,
  ask: (school: string, who: HubIdentity, question: HubQuestion): string =>
    from(school, who, `ask.${question}`),
  everyAsk: (school: string): string => `${root(school)}.from.*.ask.*.*`,
  to: (school: string, { hub, hubId }: HubIdentity, question: SchoolQuestion): string =>
    `${root(school)}.to.${hub}.${question}.${hubId}`,
  /** A hub is to ask whom it is to erase, now. */
  toErase: (school: string, hub: string): string => `${root(school)}.to.${hub}.erased`,
  /** All that a hub may write, and all that it may hear. */
  ownOf: (school: string, hub: string) => ({
    publish: `${root(school)}.from.${hub}.>`,
    subscribe: [`${root(school)}.to.${hub}.>`, `_INBOX.${hub}.>`],
  }),
  /** Answers to a hub come here, so that no other hub can listen for them. */
  inbox: (hub: string): string => `_INBOX.${hub}`,
  allOf: (school: string): string => `${root(school)}.>`,
  /** No hub may write or hear here: each tries, and leaves a server that lets it. */
  forbidden: (school: string): string => `${root(school)}.try`,
};

export const streamOf = (school: string): string => `slackwater-${school}`;

/** Who wrote and what it is; undefined for a subject that is none of ours. */
export function readSubject(subject: string): (HubIdentity & { readonly kind: string }) | undefined {
  const [first, , way, hub, , kind, hubId, ...more] = subject.split('.');
  if (first !== 'slackwater' || way !== 'from' || more.length > 0) return undefined;
  if (hub === undefined || kind === undefined || !schoolNameSchema.safeParse(hub).success) return undefined;
  return hubIdSchema.safeParse(hubId).success ? { hub, hubId: hubId!, kind } : undefined;
}
