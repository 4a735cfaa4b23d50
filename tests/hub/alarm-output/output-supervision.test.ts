// Outputs beside the hub: one that fails is an alarm that names it; what the watching itself calls for sounds too.

import { expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import type { OutputHealth, OutputSound } from '../../../hub/outputs/alarm-output.ts';
import { createAlarmOutputs } from '../../../hub/outputs/alarm-outputs.ts';
import { soundAlarms } from '../../../hub/outputs/sound-alarms.ts';
import { serveTestHub } from '../../support/serve-test-hub.ts';

async function withOutputs() {
  const served = await serveTestHub();
  const sounded: (OutputSound | null)[] = [];
  let health: OutputHealth = () => undefined;
  const outputs = createAlarmOutputs({
    clock: served.clock,
    loudspeaker: (heard) => {
      health = heard;
      return {
        name: told('loudspeaker (aplay)'),
        test: async () => ({ ok: true }),
        probe: async () => ({ ok: true }),
        sound: (priority) => sounded.push(priority),
        close: () => undefined,
      };
    },
    others: [],
  });
  const stop = soundAlarms(served.hub, outputs);
  return {
    ...served,
    outputs,
    sounded,
    stop,
    health: (fault: string | null) => health(fault === null ? null : told(fault)),
  };
}

test('one that fails is named, more urgently while a session runs, and over when it works again', async () => {
  const { hub, health, stop, close, clock } = await withOutputs();
  health('aplay hangs');
  expect(hub.supervision).toMatchObject([
    {
      kind: 'outputFailed',
      priority: 'low',
      subject: told('loudspeaker (aplay)'),
      reason: told('aplay hangs'),
    },
  ]);
  hub.acknowledgeSupervision(hub.supervision.map(({ alarmId }) => alarmId));
  hub.startSession(['mira'], '');
  // More urgent than what was seen: to be seen again.
  expect(hub.supervision).toMatchObject([{ kind: 'outputFailed', priority: 'medium', acknowledged: false }]);
  clock.advance(100);
  health(null);
  expect(hub.supervision).toEqual([]);
  stop();
  await close();
});

test('that monitoring has stopped sounds on the hub’s own outputs after the session, until it is seen', async () => {
  const { hub, sounded, stop, close, clock } = await withOutputs();
  hub.startSession(['mira'], '');
  clock.advance(100);
  hub.endSession('diskFault');
  expect(sounded.at(-1)).toBe('high');
  hub.acknowledgeSupervision(hub.supervision.map(({ alarmId }) => alarmId));
  expect(sounded.at(-1)).toBeNull();
  stop();
  await close();
});
