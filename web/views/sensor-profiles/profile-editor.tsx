// One profile in work: its bytes, what comes of them, and the profile itself as a form and as text, all three following each change.
// On trial until it is saved.

import { useSignal } from '@preact/signals';
import { useLayoutEffect, useMemo } from 'preact/hooks';
import { explainCapture } from '../../../src/profiles/explain-capture.ts';
import { type ProfileProblem, parseProfile } from '../../../src/profiles/profile-file.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { ByteRows } from './byte-rows.tsx';
import { CaptureSource } from './capture-source.tsx';
import { ProfileForm } from './profile-form.tsx';
import { begun, changed, fileNameOf, looseValue, redone, undone, withField } from './profile-text.ts';
import { ProfileValues } from './profile-values.tsx';
import { saveText, useCapture } from './use-capture.ts';

export interface ProfileEditorProps {
  /** Null for one that lies in no file yet. */
  readonly file: string | null;
  readonly startText: string;
  /** Bytes to begin with; SIMULATED. */
  readonly exampleCapture: string | null;
  readonly hasBench: boolean;
  readonly onSaved: () => Promise<boolean>;
}

export function ProfileEditor({ file, startText, exampleCapture, hasBench, onSaved }: ProfileEditorProps) {
  const { text, http } = useApp();
  const words = text.profiles;
  const capture = useCapture();
  const history = useSignal(begun(startText));
  const savedFile = useSignal(file);
  const chosen = useSignal<number | null>(null);
  const said = useSignal<string | null>(null);
  const problem = useSignal<string | null>(null);
  // Before the paint: a capture that somebody opens at once stays.
  useLayoutEffect(() => {
    if (exampleCapture !== null) capture.takeText(exampleCapture, true);
    return () => void (capture.listensTo.value !== null && capture.stop());
  }, []);
  const value = history.value.text;
  const parsed = useMemo(() => parseProfile(value), [value]);
  const profile: SensorProfile | null = parsed.ok ? parsed.value : null;
  const explanation = useMemo(
    () => explainCapture(profile, capture.packets.value),
    [profile, capture.packets.value],
  );
  const change = (to: string, joins = false): void => {
    history.value = changed(history.value, to, joins);
    said.value = null;
  };
  const save = async (): Promise<void> => {
    const name = savedFile.value ?? fileNameOf(String(looseValue(value)['name'] ?? ''));
    const answer = await http.saveProfile(name, value);
    problem.value = answer.ok ? null : answer.reason;
    if (!answer.ok) return;
    savedFile.value = name;
    const waits = await onSaved();
    // What was changed since is not saved.
    if (history.value.text === value) said.value = waits ? words.waits : words.saved;
  };
  const former = async (): Promise<void> => {
    if (savedFile.value === null) return;
    const answer = await http.formerProfiles(savedFile.value);
    const before = answer.ok ? answer.value.former[0]?.text : undefined;
    if (before === undefined) said.value = words.noFormer;
    else change(before);
  };
  return (
    <>
      <CaptureSource capture={capture} hasBench={hasBench} profileText={profile === null ? null : value} />
      <div class="profile-bench">
        <div class="profile-bytes">
          <section class="step">
            <h2>{words.bytes}</h2>
            <ByteRows
              explanation={explanation}
              profile={profile}
              chosen={chosen.value}
              onChoose={(place) => (chosen.value = chosen.value === place ? null : place)}
            />
            {chosen.value === null ? null : (
              <p class="profile-buttons">
                <strong>{words.chosen(chosen.value)}</strong>
                <button
                  type="button"
                  class="button"
                  onClick={() => change(withField(value, { gives: 'spo2Percent', at: chosen.value! }))}
                >
                  {words.makeField}
                </button>
              </p>
            )}
          </section>
          <ProfileValues explanation={explanation} />
        </div>
        <section class="step">
          <div class="profile-buttons">
            <button
              type="button"
              class="button"
              disabled={history.value.past.length === 0}
              onClick={() => (history.value = undone(history.value))}
            >
              {words.undo}
            </button>
            <button
              type="button"
              class="button"
              disabled={history.value.future.length === 0}
              onClick={() => (history.value = redone(history.value))}
            >
              {words.redo}
            </button>
            {savedFile.value === null ? null : (
              <button type="button" class="button button--quiet" onClick={() => void former()}>
                {words.former}
              </button>
            )}
            <button
              type="button"
              class="button button--quiet"
              onClick={() =>
                saveText(savedFile.value ?? fileNameOf(String(looseValue(value)['name'] ?? '')), value)
              }
            >
              {words.download}
            </button>
            <button
              type="button"
              class="button button--primary"
              disabled={profile === null}
              onClick={() => void save()}
            >
              {words.save}
            </button>
          </div>
          <p class="hint">{words.saveHint}</p>
          {said.value === null ? null : (
            <p role="status" class="notice">
              {said.value}
            </p>
          )}
          <ProblemNotice problem={problem.value} />
          <Problems problems={parsed.ok ? [] : parsed.reason} />
          <h2>{words.form}</h2>
          <ProfileForm
            value={value}
            onChange={change}
            characteristics={capture.examined.value?.characteristics ?? []}
          />
          <details class="explain">
            <summary>{words.json}</summary>
            <textarea
              class="profile-text"
              aria-label={words.json}
              spellcheck={false}
              rows={18}
              value={value}
              onInput={(event) => change(event.currentTarget.value, true)}
            />
          </details>
        </section>
      </div>
    </>
  );
}

/** What is to be put right, in the order of the text. */
function Problems({ problems }: { readonly problems: readonly ProfileProblem[] }) {
  const { text, say } = useApp();
  const words = text.profiles;
  if (problems.length === 0) return <p role="status">{words.inOrder}</p>;
  return (
    <div role="status" class="notice">
      <strong>{words.problems}</strong>
      <ul>
        {problems.slice(0, 8).map(({ line, column, place, reason }) => (
          <li key={`${line} ${column} ${place}`}>{words.problemAt(line, place, say(reason))}</li>
        ))}
      </ul>
    </div>
  );
}
