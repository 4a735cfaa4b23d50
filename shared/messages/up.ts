// The union of all messages from page to hub. One file a message; the hub validates with `upMessageSchema`.

import * as z from 'zod/mini';
import { acknowledgeAlarmsMessageSchema } from './acknowledge-alarms.ts';
import { acknowledgeSupervisionMessageSchema } from './acknowledge-supervision.ts';
import { addMarkMessageSchema } from './add-mark.ts';
import { changeSettingsMessageSchema } from './change-settings.ts';
import { endSessionMessageSchema } from './end-session.ts';
import { helloMessageSchema } from './hello.ts';
import { pageStateMessageSchema } from './page-state.ts';
import { pauseAudioMessageSchema } from './pause-audio.ts';
import { rateHoldMessageSchema } from './rate-hold.ts';
import { removeMarkMessageSchema } from './remove-mark.ts';
import { startSessionMessageSchema } from './start-session.ts';
import { takeCuesMessageSchema } from './take-cues.ts';

export const upMessageSchema = z.discriminatedUnion('type', [
  helloMessageSchema,
  startSessionMessageSchema,
  endSessionMessageSchema,
  addMarkMessageSchema,
  removeMarkMessageSchema,
  rateHoldMessageSchema,
  acknowledgeAlarmsMessageSchema,
  acknowledgeSupervisionMessageSchema,
  pauseAudioMessageSchema,
  changeSettingsMessageSchema,
  pageStateMessageSchema,
  takeCuesMessageSchema,
]);
export type UpMessage = z.infer<typeof upMessageSchema>;
