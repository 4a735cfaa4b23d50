// What a school asks a hub of its room: everything a page draws the present from, and to put alarms aside for a person who is
// at the school.

import * as z from 'zod/mini';
import { errorCodeSchema } from '../error-codes.ts';
import { acknowledgeAlarmsMessageSchema } from '../messages/acknowledge-alarms.ts';
import { acknowledgeSupervisionMessageSchema } from '../messages/acknowledge-supervision.ts';
import { downMessageSchema } from '../messages/down.ts';
import { welcomeMessageSchema } from '../messages/welcome.ts';
import { saidSchema } from '../said.ts';

/** In the order a page takes them: the greeting, `fill`, `messages`, `whole`; `fill` and `whole` are live frames, base64. */
export const roomWelcomeSchema = z.object({
  protocolVersion: z.int(),
  greeting: welcomeMessageSchema,
  fill: z.string(),
  messages: z.array(downMessageSchema),
  whole: z.string(),
  /** The number of the last live message before it: those after it are news. */
  toldUpTo: z.int(),
});
export type RoomWelcome = z.output<typeof roomWelcomeSchema>;

/** What may be asked of a hub from afar. Everything else is done in its room; nobody afar makes a room silent. */
export const roomRequestSchema = z.discriminatedUnion('type', [
  acknowledgeAlarmsMessageSchema,
  acknowledgeSupervisionMessageSchema,
]);

/** `by`: who asks, as the hub is to say it. */
export const roomDoSchema = z.object({ by: z.string().check(z.maxLength(120)), request: roomRequestSchema });
export type RoomDo = z.output<typeof roomDoSchema>;

/** The hub decides: null when it has done it. */
export const roomDoneSchema = z.object({
  refused: z.nullable(z.object({ code: errorCodeSchema, said: saidSchema })),
});
export type RoomDone = z.output<typeof roomDoneSchema>;
