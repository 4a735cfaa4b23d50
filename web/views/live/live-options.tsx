// Seldom needed things of the live page, behind one control: trace length, tapping, cues, keys, limits, the end.

import { type Signal, useSignal } from '@preact/signals';
import type { AthleteSettings } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { Dialog } from '../../components/dialog.tsx';
import { HandsFreeSettings } from '../../components/hands-free.tsx';
import { PlanLink } from '../../components/plan-link.tsx';
import { SettingsForm } from '../../components/settings-form.tsx';
import { SpokenAlarmsField } from '../../components/spoken-alarms-field.tsx';
import { Tick } from '../../components/tick.tsx';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { useIsInPlan } from '../plans/use-plan-part.ts';

export interface LiveOptionsProps {
  readonly model: AthleteModel;
  readonly wholeScreen: Signal<boolean>;
  readonly windowMinutes: Signal<number>;
}

function changedParts(before: AthleteSettings, after: AthleteSettings): Partial<AthleteSettings> {
  const had = new Map<string, unknown>(Object.entries(before));
  return Object.fromEntries(Object.entries(after).filter(([name, value]) => had.get(name) !== value));
}

export function LiveOptions({ model, wholeScreen, windowMinutes }: LiveOptionsProps) {
  const { text, hub, commands, preferences, planRun } = useApp();
  const open = useSignal<'options' | 'settings' | 'end' | null>(null);
  const opened = useSignal<AthleteSettings>(model.athlete.value.settings);
  const draft = useSignal<AthleteSettings>(opened.value);
  const close = () => {
    open.value = null;
  };
  const words = text.live;
  // The strip of a plan that this athlete alone is in has the way to the rest of it.
  const hasOwnStrip = useIsInPlan(model.athleteId).value && planRun.run.value?.options.athletes.length === 1;
  return (
    <div class="live-tools">
      {hasOwnStrip ? null : <PlanLink />}
      {hub.athletes.value.length > 1 ? (
        <a class="button button--quiet" href="/wall">
          {words.backToWall}
        </a>
      ) : null}
      {wholeScreen.value ? (
        <button type="button" class="button" onClick={() => (wholeScreen.value = false)}>
          {words.showAll}
        </button>
      ) : null}
      <button type="button" class="button button--quiet" onClick={() => (open.value = 'options')}>
        {words.options}
      </button>
      {open.value === 'options' ? (
        <Dialog
          title={words.options}
          onClose={() => open.value === 'options' && close()}
          actions={
            <button type="button" class="button" onClick={() => (open.value = 'end')}>
              {words.endSession}
            </button>
          }
        >
          <div class="option-list">
            <button
              type="button"
              class="button button--wide"
              onClick={() => {
                wholeScreen.value = true;
                close();
              }}
            >
              {words.eyesClosed}
            </button>
            <button
              type="button"
              class="button button--wide"
              onClick={() => {
                opened.value = model.athlete.value.settings;
                draft.value = opened.value;
                open.value = 'settings';
              }}
            >
              {words.settings}
            </button>
            <label class="field">
              <span>{words.window}</span>
              <select
                value={String(windowMinutes.value)}
                onChange={(event) => (windowMinutes.value = Number(event.currentTarget.value))}
              >
                {[2, 4, 8, 15, 30].map((minutes) => (
                  <option key={minutes} value={String(minutes)}>
                    {words.minutes(minutes)}
                  </option>
                ))}
              </select>
            </label>
            <Tick
              checked={preferences.spokenCues.value}
              onChange={(on) => (preferences.spokenCues.value = on)}
            >
              {words.spokenCues}
            </Tick>
            <SpokenAlarmsField />
            <Tick
              checked={preferences.shortcutKeys.value}
              onChange={(on) => (preferences.shortcutKeys.value = on)}
            >
              {words.keysOn}
            </Tick>
            <HandsFreeSettings />
            <dl class="keys">
              {words.keys.map(([key, does]) => (
                <div key={key}>
                  <dt>
                    <kbd>{key}</kbd>
                  </dt>
                  <dd>{does}</dd>
                </div>
              ))}
            </dl>
          </div>
        </Dialog>
      ) : null}
      {open.value === 'settings' ? (
        <Dialog
          title={words.settings}
          onClose={close}
          closeLabel={text.cancel}
          actions={
            <button
              type="button"
              class="button button--primary"
              onClick={() => {
                // Only what was changed here: another may have raised the floor since this was opened.
                const settings = {
                  ...model.athlete.value.settings,
                  ...changedParts(opened.value, draft.value),
                };
                void commands.changeSettings(model.athleteId, settings);
                close();
              }}
            >
              {text.settings.save}
            </button>
          }
        >
          <SettingsForm settings={draft.value} onChange={(settings) => (draft.value = settings)} />
        </Dialog>
      ) : null}
      {open.value === 'end' ? (
        <Dialog
          title={words.endSessionTitle}
          onClose={close}
          closeLabel={text.cancel}
          actions={
            <button
              type="button"
              class="button button--primary"
              onClick={() => {
                commands.endSession();
                close();
              }}
            >
              {words.endSessionConfirm}
            </button>
          }
        >
          <p>{words.endSessionText}</p>
        </Dialog>
      ) : null}
    </div>
  );
}
