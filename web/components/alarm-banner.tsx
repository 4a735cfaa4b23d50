// One athlete's alarms in the colours of IEC 60601-1-8: what happened, what to do, acknowledge, pause the sound.

import { useComputed } from '@preact/signals';
import { useApp } from '../shell/app-context.ts';
import { orderAlarms } from '../state/alarm-order.ts';
import type { AthleteModel } from '../state/athlete-model.ts';
import { formatAge } from '../state/format.ts';
import { alarmTitle } from './alarm-title.ts';
import { Beacon } from './beacon.tsx';

export function AlarmBanner({ model, named }: { readonly model: AthleteModel; readonly named: boolean }) {
  const { text, hub, commands } = useApp();
  const ordered = useComputed(() => orderAlarms(model.alarms.value));
  const pauseLeft = useComputed(() => {
    const untilMs = model.sound.value.audioPausedUntilMs;
    const nowMs = hub.nowMs.value;
    return untilMs === null || nowMs === null || nowMs >= untilMs ? null : formatAge(untilMs - nowMs + 999);
  });
  const first = ordered.value[0];
  return (
    <div class="alarm-region" role="alert" aria-label={text.alarm.region}>
      {first === undefined ? null : (
        <section
          class={`alarm alarm--${first.priority}${first.acknowledged ? ' is-acknowledged' : ''}${
            first.conditionPresent ? '' : ' is-passed'
          }`}
        >
          <Beacon priority={first.priority} still={first.acknowledged || !first.conditionPresent} />
          <div class="alarm-words">
            <h2 class="alarm-title">
              {named ? `${model.athlete.value.name}: ` : ''}
              {alarmTitle(first, text)}
            </h2>
            <p class="alarm-instruction">{first.instruction}</p>
            <p class="alarm-message">
              {first.message}
              {ordered.value.length > 1 ? ` \u2014 ${text.alarm.more(ordered.value.length - 1)}: ` : ''}
              {ordered.value
                .slice(1)
                .map((alarm) => alarmTitle(alarm, text))
                .join(', ')}
            </p>
          </div>
          {hub.mayAct.value ? (
            <div class="alarm-actions">
              {ordered.value.some((alarm) => !alarm.acknowledged) ? (
                <button
                  type="button"
                  class="button alarm-button"
                  onClick={() => commands.acknowledge(model.athleteId)}
                >
                  {text.alarm.acknowledge}
                </button>
              ) : (
                <span class="alarm-done">{text.alarm.acknowledged}</span>
              )}
              {pauseLeft.value === null ? (
                <button
                  type="button"
                  class="button alarm-button"
                  onClick={() => commands.pauseSound(model.athleteId, true)}
                >
                  {text.alarm.pauseSound}
                </button>
              ) : (
                <button
                  type="button"
                  class="button alarm-button"
                  onClick={() => commands.pauseSound(model.athleteId, false)}
                >
                  {text.alarm.resumeSound}
                  <small>{text.alarm.pausedFor(pauseLeft.value)}</small>
                </button>
              )}
            </div>
          ) : null}
        </section>
      )}
    </div>
  );
}
