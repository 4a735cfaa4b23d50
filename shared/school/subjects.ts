// The subjects on which hubs and a school talk. A hub writes below its own `from` only and hears its own `to` only, which
// the server's permissions hold (hub/school/server-config.ts): the name in a subject is who wrote, whatever a body says.

import * as z from 'zod/mini';

/** A name of a school or a hub: one token of a subject, a part of a file name. */
export const schoolNameSchema = z.string().check(z.regex(/^[a-z0-9][a-z0-9-]{0,39}$/));

/** What a hub sends to be kept. Everything here goes through the stream and is acknowledged. */
export const keptKinds = ['segment', 'told', 'list'] as const;
export type KeptKind = (typeof keptKinds)[number];

/** What a hub asks the school, answered while it runs. */
export type HubQuestion = 'hello' | 'have' | 'erased';
/** What a school asks a hub; `erased`: to ask whom it is to erase, now. */
export type SchoolQuestion = 'welcome' | 'do' | 'erased';

const root = (school: string): string => `slackwater.${school}`;

export const subjects = {
  kept: (school: string, hub: string, kind: KeptKind): string => `${root(school)}.from.${hub}.kept.${kind}`,
  everyKept: (school: string): string => `${root(school)}.from.*.kept.*`,
  /** `text`: a message of the wire; `frame`: a live frame. Lost when nobody hears it. */
  live: (school: string, hub: string, kind: 'text' | 'frame'): string =>
    `${root(school)}.from.${hub}.live.${kind}`,
  everyLive: (school: string): string => `${root(school)}.from.*.live.*`,
  ask: (school: string, hub: string, question: HubQuestion): string =>
    `${root(school)}.from.${hub}.ask.${question}`,
  everyAsk: (school: string): string => `${root(school)}.from.*.ask.*`,
  to: (school: string, hub: string, question: SchoolQuestion): string =>
    `${root(school)}.to.${hub}.${question}`,
  everyTo: (school: string, hub: string): string => `${root(school)}.to.${hub}.*`,
  /** All that a hub may write, and all that it may hear. */
  ownOf: (school: string, hub: string) => ({
    publish: `${root(school)}.from.${hub}.>`,
    subscribe: [`${root(school)}.to.${hub}.>`, `_INBOX.${hub}.>`],
  }),
  /** Answers to a hub come here, so that no other hub can listen for them. */
  inbox: (hub: string): string => `_INBOX.${hub}`,
  allOf: (school: string): string => `${root(school)}.>`,
};

export const streamOf = (school: string): string => `slackwater-${school}`;

/** Who wrote and what it is; undefined for a subject that is none of ours. */
export function readSubject(subject: string): { readonly hub: string; readonly kind: string } | undefined {
  const [first, , way, hub, , kind, ...more] = subject.split('.');
  if (first !== 'slackwater' || way !== 'from' || more.length > 0) return undefined;
  if (hub === undefined || kind === undefined || !schoolNameSchema.safeParse(hub).success) return undefined;
  return { hub, kind };
}
