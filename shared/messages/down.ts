// The union of all messages from hub to page. One file a message; the page validates with `downMessageSchema`.

import * as z from 'zod/mini';
import { alarmsMessageSchema } from './alarms.ts';
import { coachWordsMessageSchema } from './coach-words.ts';
import { courseMessageSchema } from './course.ts';
import { cueSpeakerMessageSchema } from './cue-speaker.ts';
import { doneMessageSchema } from './done.ts';
import { heartbeatMessageSchema } from './heartbeat.ts';
import { holdMessageSchema } from './hold.ts';
import { latestMessageSchema } from './latest.ts';
import { markedMessageSchema } from './marked.ts';
import { planRunMessageSchema } from './plan-run.ts';
import { presenceMessageSchema } from './presence.ts';
import { refusedMessageSchema } from './refused.ts';
import { sensorsMessageSchema } from './sensors.ts';
import { sessionMessageSchema } from './session.ts';
import { supervisionMessageSchema } from './supervision.ts';
import { traceMessageSchema } from './trace.ts';
import { welcomeMessageSchema } from './welcome.ts';

export const downMessageSchema = z.discriminatedUnion('type', [
  welcomeMessageSchema,
  heartbeatMessageSchema,
  latestMessageSchema,
  traceMessageSchema,
  alarmsMessageSchema,
  holdMessageSchema,
  markedMessageSchema,
  sessionMessageSchema,
  sensorsMessageSchema,
  presenceMessageSchema,
  planRunMessageSchema,
  supervisionMessageSchema,
  courseMessageSchema,
  cueSpeakerMessageSchema,
  coachWordsMessageSchema,
  doneMessageSchema,
  refusedMessageSchema,
]);
export type DownMessage = z.infer<typeof downMessageSchema>;
