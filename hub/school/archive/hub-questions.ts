// Answers what hubs ask of their school: whether they are understood, and what of theirs the archive has.

import type { Msg, NatsConnection } from '@nats-io/transport-node';
import * as z from 'zod/mini';
import { said } from '../../../shared/said.ts';
import {
  type ErasedAnswer,
  type ErasedByHub,
  erasedSchema,
  type HelloAnswer,
  haveSchema,
  helloSchema,
  type SchoolHello,
  sumsSchema,
} from '../../../shared/school/questions.ts';
import { schoolVersion } from '../../../shared/school/school-version.ts';
import { type HubIdentity, readSubject, subjects } from '../../../shared/school/subjects.ts';
import type { HubLog } from '../../base/log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Archive } from './archive.ts';

/** Clocks further apart than this are told. Our choice: an hour of summer time is, a slow clock is not. */
const clocksApartMs = 5 * 60_000;

export interface HubQuestionParts {
  readonly connection: NatsConnection;
  readonly school: string;
  readonly archive: Pick<Archive, 'have' | 'sums' | 'knowHub'>;
  /** Messages of a hub that are not in the archive yet. */
  readonly pendingOf: (hub: string) => Promise<number>;
  /** Whom the hub is to erase, and whom it has. */
  readonly erased: (hub: string, said: ErasedByHub) => Promise<ErasedAnswer>;
  readonly clock: Clock;
  readonly log: HubLog;
  /** A hub is there, again or for the first time. */
  readonly greeted: (hub: HubIdentity, hello: SchoolHello) => void;
  /** Another hub was first under its name: it is refused. */
  readonly refused: (hub: string, hello: SchoolHello) => void;
}

/** Answers until the connection ends. */
export function answerHubs(parts: HubQuestionParts): void {
  parts.connection.subscribe(subjects.everyAsk(parts.school), {
    callback: (error, message) => {
      if (error === null) void answer(parts, message);
    },
  });
}

async function answer(parts: HubQuestionParts, message: Msg): Promise<void> {
  const from = readSubject(message.subject);
  if (from === undefined) return;
  try {
    const body: unknown = JSON.parse(message.string());
    const answered = await answerTo(parts, from, body);
    // What cannot be read is not answered: the hub asks again, and sends what it has meanwhile.
    if (answered !== undefined) message.respond(JSON.stringify(answered));
  } catch (error) {
    parts.log.warn(
      `a question of hub ${from.hub}: ${error instanceof Error ? error.message : String(error)}`,
    );
  }
}

async function answerTo(
  parts: HubQuestionParts,
  from: HubIdentity & { readonly kind: string },
  body: unknown,
): Promise<unknown> {
  const { archive, pendingOf } = parts;
  if (from.kind === 'hello') return greet(parts, from, body);
  // Whoever is not the hub of that name learns nothing of its recordings.
  if (!(await archive.knowHub(from))) return undefined;
  if (from.kind === 'sums') {
    const asked = z.safeParse(sumsSchema, body);
    return asked.success ? archive.sums(from.hub, asked.data) : undefined;
  }
  if (from.kind === 'erased') {
    const told = z.safeParse(erasedSchema, body);
    return told.success ? parts.erased(from.hub, told.data) : undefined;
  }
  const asked = z.safeParse(haveSchema, body);
  if (!asked.success) return undefined;
  const sessionIds = asked.data.sessions.map(({ sessionId }) => sessionId);
  // Asked before the archive: what is put into it meanwhile is counted as still on its way.
  const pending = await pendingOf(from.hub);
  return archive.have(from.hub, sessionIds, pending);
}

async function greet(
  { archive, clock, greeted, refused }: HubQuestionParts,
  from: HubIdentity,
  body: unknown,
): Promise<HelloAnswer | undefined> {
  const given = z.safeParse(z.object({ version: z.int() }), body);
  if (!given.success) return undefined;
  const { version } = given.data;
  if (version !== schoolVersion)
    return {
      version: schoolVersion,
      refused: said('school.otherVersion', { hub: version, school: schoolVersion }),
      notice: null,
    };
  const hello = z.safeParse(helloSchema, body);
  if (!hello.success) return undefined;
  if (!(await archive.knowHub(from))) {
    refused(from.hub, hello.data);
    return { version: schoolVersion, refused: said('school.nameTaken', { hub: from.hub }), notice: null };
  }
  greeted(from, hello.data);
  const apartMs = Math.abs(hello.data.wallNowMs - clock.wallNowMs());
  return {
    version: schoolVersion,
    refused: null,
    notice:
      apartMs > clocksApartMs ? said('school.clockOff', { minutes: Math.round(apartMs / 60_000) }) : null,
  };
}
