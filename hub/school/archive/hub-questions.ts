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
} from '../../../shared/school/questions.ts';
import { schoolVersion } from '../../../shared/school/school-version.ts';
import { readSubject, subjects } from '../../../shared/school/subjects.ts';
import type { HubLog } from '../../base/log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Archive } from './archive.ts';

/** Clocks further apart than this are told. Our choice: an hour of summer time is, a slow clock is not. */
const clocksApartMs = 5 * 60_000;

export interface HubQuestionParts {
  readonly connection: NatsConnection;
  readonly school: string;
  readonly archive: Pick<Archive, 'have'>;
  readonly pending: () => Promise<number>;
  /** Whom the hub is to erase, and whom it has. */
  readonly erased: (hub: string, said: ErasedByHub) => Promise<ErasedAnswer>;
  readonly clock: Clock;
  readonly log: HubLog;
  /** A hub is there, again or for the first time. */
  readonly greeted: (hub: string, hello: SchoolHello) => void;
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
    const answered = await answerOf(parts, from.hub, from.kind, body);
    // What cannot be read is not answered: the hub asks again, and sends what it has meanwhile.
    if (answered !== undefined) message.respond(JSON.stringify(answered));
  } catch (error) {
    parts.log.warn(
      `a question of hub ${from.hub}: ${error instanceof Error ? error.message : String(error)}`,
    );
  }
}

async function answerOf(parts: HubQuestionParts, hub: string, kind: string, body: unknown): Promise<unknown> {
  if (kind === 'hello') return greet(parts, hub, body);
  if (kind === 'have') return answerHave(parts, hub, body);
  const said = kind === 'erased' ? z.safeParse(erasedSchema, body) : undefined;
  return said?.success === true ? parts.erased(hub, said.data) : undefined;
}

function greet({ clock, greeted }: HubQuestionParts, hub: string, body: unknown): HelloAnswer | undefined {
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
  greeted(hub, hello.data);
  const apartMs = Math.abs(hello.data.wallNowMs - clock.wallNowMs());
  return {
    version: schoolVersion,
    refused: null,
    notice:
      apartMs > clocksApartMs ? said('school.clockOff', { minutes: Math.round(apartMs / 60_000) }) : null,
  };
}

async function answerHave(
  { archive, pending }: HubQuestionParts,
  hub: string,
  body: unknown,
): Promise<unknown> {
  const asked = z.safeParse(haveSchema, body);
  return asked.success ? archive.have(hub, asked.data.sessions, await pending()) : undefined;
}
