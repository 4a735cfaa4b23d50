// The training log: what was trained without sensors, with its cautions, and advice to talk over with an instructor.

import { useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { TrainingEntry, TrainingEntryKind } from '../../../shared/training-log.ts';
import type { Athlete } from '../../../shared/views.ts';
import { clockText } from '../../../shared/words/formats.ts';
import type { Advice } from '../../../src/training/advice.ts';
import { entryCautions, isInWater, timedSwimMeters } from '../../../src/training/entry-cautions.ts';
import { type LapTiming, startTiming, type TimedKind, timedKinds } from '../../../src/training/lap-timing.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { NumberStepper } from '../../components/number-stepper.tsx';
import { formatWallTime } from '../../state/format.ts';
import { forgetTiming, readTiming } from '../../state/lap-storage.ts';
import { LapTimer } from '../log/lap-timer.tsx';
import { TimedLengths } from '../log/timed-lengths.tsx';
import { WhenField } from '../log/when-field.tsx';

const kinds: readonly TrainingEntryKind[] = [
  'poolSet',
  'timedSwim',
  'apneaWalk',
  'maximalDryHold',
  'maximalInWater',
];

// randomUUID exists in secure contexts only, and a hub on a home network may be plain HTTP.
const newEntryId = () => `e-${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 10)}`;

function emptyEntry(kind: TrainingEntryKind, athleteId: string): TrainingEntry {
  const common = {
    entryId: newEntryId(),
    athleteId,
    startedWallAtMs: Date.now(),
    place: '',
    effort: 'medium',
    comfort: null,
    note: '',
  } as const;
  switch (kind) {
    case 'poolSet':
      return {
        ...common,
        kind,
        buddyName: '',
        repetitions: 8,
        distanceMeters: 50,
        everySeconds: 120,
        poolLengthMeters: 25,
        breath: 'free',
        repetitionsSeconds: [],
      };
    case 'timedSwim':
      return {
        ...common,
        kind,
        buddyName: '',
        lengthSeconds: 720,
        poolLengthMeters: 25,
        laps: 20,
        furtherMeters: 0,
        lapsAtSeconds: [],
      };
    case 'apneaWalk':
      return { ...common, kind, buddyName: null, rounds: 6, maximal: false, lengthSeconds: 20, steps: null };
    case 'maximalDryHold':
      return { ...common, kind, buddyName: null, lengthSeconds: 120 };
    case 'maximalInWater':
      return {
        ...common,
        kind,
        buddyName: '',
        discipline: 'distance',
        lengthSeconds: null,
        distanceMeters: 25,
      };
  }
}

export function TrainingView() {
  const { text, say, http, hub } = useApp();
  const words = text.plans.training;
  useDocumentTitle(words.title);
  const athletes = useSignal<readonly Athlete[]>([]);
  const athleteId = useSignal('');
  const entries = useSignal<readonly TrainingEntry[]>([]);
  const advice = useSignal<readonly Advice[]>([]);
  const draft = useSignal<TrainingEntry | null>(null);
  const problem = useSignal<string | null>(null);
  const timing = useSignal<LapTiming | null>(null);
  const load = async () => {
    if (athleteId.value === '') return;
    const [log, advised] = await Promise.all([http.training(athleteId.value), http.advice(athleteId.value)]);
    problem.value = log.ok ? null : words.loadFailed(log.reason);
    if (log.ok) entries.value = log.value.entries;
    if (advised.ok) advice.value = advised.value.advice;
  };
  useEffect(() => {
    void http.athletes().then((answer) => {
      if (!answer.ok) {
        problem.value = words.loadFailed(answer.reason);
        return;
      }
      athletes.value = answer.value.athletes;
      athleteId.value = answer.value.athletes[0]?.athleteId ?? '';
      if (athleteId.value !== '') draft.value = emptyEntry('poolSet', athleteId.value);
      // A timing that was going on when the page was left goes on.
      const kept = readTiming(localStorage);
      if (kept === null) return;
      // One of an athlete who has been erased meanwhile, from another browser, goes too.
      if (!answer.value.athletes.some((each) => each.athleteId === kept.entry.athleteId)) {
        forgetTiming(localStorage);
        return;
      }
      athleteId.value = kept.entry.athleteId;
      draft.value = kept.entry;
      timing.value = kept.timing;
    });
  }, []);
  useEffect(() => void load(), [athleteId.value]);
  const save = async () => {
    const entry = draft.value;
    if (entry === null) return;
    const buddyName = entry.buddyName?.trim() ?? '';
    if (isInWater(entry) && buddyName === '') {
      problem.value = words.buddyNeeded;
      return;
    }
    const saved = await http.saveTraining({
      ...entry,
      buddyName: buddyName === '' ? null : buddyName,
    } as TrainingEntry);
    problem.value = saved.ok ? null : saved.reason;
    if (!saved.ok) return;
    draft.value = emptyEntry(entry.kind, athleteId.value);
    await load();
  };
  const cautions = useComputed(() => {
    const entry = draft.value;
    if (entry === null) return [];
    return entryCautions(
      entry.buddyName?.trim() === '' && !isInWater(entry)
        ? ({ ...entry, buddyName: null } as TrainingEntry)
        : entry,
    );
  });
  const entry = draft.value;
  const beginTiming = (of: TrainingEntry) => {
    const named = (of.buddyName?.trim() ?? '') !== '';
    if (isInWater(of) && !named) {
      problem.value = text.history.timer.buddyFirst;
      return;
    }
    problem.value = null;
    draft.value = named ? of : ({ ...of, buddyName: null } as TrainingEntry);
    timing.value = startTiming(of.kind as TimedKind);
  };
  if (entry !== null && timing.value !== null)
    return (
      <article class="sheet training">
        <h1>{words.title}</h1>
        <LapTimer
          entry={entry}
          begun={timing.value}
          onCancel={() => {
            timing.value = null;
          }}
          onDone={(timed) => {
            draft.value = timed;
            timing.value = null;
          }}
        />
      </article>
    );
  return (
    <article class="sheet training">
      <h1>{words.title}</h1>
      <p>{words.lead}</p>
      <label class="field">
        <span>{words.athlete}</span>
        <select
          value={athleteId.value}
          onChange={(event) => {
            athleteId.value = event.currentTarget.value;
            draft.value = emptyEntry(draft.value?.kind ?? 'poolSet', athleteId.value);
          }}
        >
          {athletes.value.map((athlete) => (
            <option key={athlete.athleteId} value={athlete.athleteId}>
              {athlete.name}
            </option>
          ))}
        </select>
      </label>
      <section class="step">
        <h2>{text.history.weeks.advice}</h2>
        {advice.value.length === 0 ? <p class="hint">{words.noAdvice}</p> : null}
        <ul class="training-list">
          {advice.value.map((each) => (
            <li key={each.key}>
              <strong>{say(each.suggestion)}</strong>
              <span>{say(each.reason)}</span>
              <small class="hint">{words.adviceSource(say(each.source))}</small>
            </li>
          ))}
        </ul>
      </section>
      {entry === null || !hub.mayAct.value ? null : (
        <form
          class="step training-form"
          onSubmit={(event) => {
            event.preventDefault();
            void save();
          }}
        >
          <label class="field">
            <span>{words.kind}</span>
            <select
              value={entry.kind}
              onChange={(event) => {
                draft.value = emptyEntry(event.currentTarget.value as TrainingEntryKind, athleteId.value);
              }}
            >
              {kinds.map((kind) => (
                <option key={kind} value={kind}>
                  {words.kinds[kind]}
                </option>
              ))}
            </select>
          </label>
          <WhenField
            label={words.when}
            wallAtMs={entry.startedWallAtMs}
            onChange={(startedWallAtMs) => {
              draft.value = { ...entry, startedWallAtMs };
            }}
          />
          <EntryFields
            entry={entry}
            onChange={(next) => {
              draft.value = next;
            }}
          />
          <label class="field">
            <span>{words.place}</span>
            <input
              type="text"
              maxLength={120}
              value={entry.place}
              onInput={(event) => {
                draft.value = { ...entry, place: event.currentTarget.value };
              }}
            />
          </label>
          <label class="field">
            <span>{words.buddy}</span>
            <input
              type="text"
              maxLength={80}
              value={entry.buddyName ?? ''}
              aria-required={isInWater(entry)}
              onInput={(event) => {
                draft.value = { ...entry, buddyName: event.currentTarget.value };
              }}
            />
          </label>
          <label class="field">
            <span>{words.effort}</span>
            <select
              value={entry.effort}
              onChange={(event) => {
                draft.value = { ...entry, effort: event.currentTarget.value as TrainingEntry['effort'] };
              }}
            >
              {(['easy', 'medium', 'hard'] as const).map((effort) => (
                <option key={effort} value={effort}>
                  {words.efforts[effort]}
                </option>
              ))}
            </select>
          </label>
          <label class="field">
            <span>{words.comfort}</span>
            <select
              value={entry.comfort ?? ''}
              onChange={(event) => {
                const comfort = Number(event.currentTarget.value);
                draft.value = { ...entry, comfort: comfort >= 1 ? comfort : null };
              }}
            >
              <option value="">{words.comfortUnsaid}</option>
              {text.plans.comfortScale.map((word, index) => (
                <option key={word} value={index + 1}>
                  {word}
                </option>
              ))}
            </select>
          </label>
          <label class="field">
            <span>{words.note}</span>
            <textarea
              maxLength={2000}
              value={entry.note}
              onInput={(event) => {
                draft.value = { ...entry, note: event.currentTarget.value };
              }}
            />
          </label>
          <TimedLengths entry={entry} />
          {(timedKinds as readonly string[]).includes(entry.kind) ? (
            <button type="button" class="button" onClick={() => beginTiming(entry)}>
              {text.history.timer.open}
            </button>
          ) : null}
          {cautions.value.map((caution) => (
            <p class="problem" key={caution.code}>
              {say(caution)}
            </p>
          ))}
          {problem.value === null ? null : (
            <p class="notice notice--strong" role="alert">
              {problem.value}
            </p>
          )}
          <button type="submit" class="button button--primary">
            {words.save}
          </button>
        </form>
      )}
      <section class="step">
        {entries.value.length === 0 ? <p class="hint">{words.empty}</p> : null}
        <ul class="training-list">
          {entries.value.map((each) => (
            <li key={each.entryId}>
              <strong>{words.kinds[each.kind]}</strong>
              <span>
                {formatWallTime(each.startedWallAtMs)} {'\u00b7'} {entrySummary(each)}
                {each.buddyName === null ? '' : ` \u00b7 ${each.buddyName}`}
              </span>
              <TimedLengths entry={each} />
              {entryCautions(each).map((caution) => (
                <small class="problem" key={caution.code}>
                  {say(caution)}
                </small>
              ))}
              {!hub.mayAct.value ? null : (
                <button
                  type="button"
                  class="button button--quiet"
                  onClick={() => void http.deleteTraining(each.athleteId, each.entryId).then(load)}
                >
                  {words.remove}
                </button>
              )}
            </li>
          ))}
        </ul>
      </section>
    </article>
  );
}

function entrySummary(entry: TrainingEntry): string {
  const time = (seconds: number | null) => (seconds === null ? '' : clockText(seconds * 1_000));
  switch (entry.kind) {
    case 'poolSet':
      return `${entry.repetitions} \u00d7 ${entry.distanceMeters}\u202fm, ${time(entry.everySeconds)}`;
    case 'timedSwim':
      return `${timedSwimMeters(entry)}\u202fm, ${time(entry.lengthSeconds)}`;
    case 'apneaWalk':
      return `${entry.rounds} \u00d7 ${entry.steps === null ? time(entry.lengthSeconds) : entry.steps}`;
    case 'maximalDryHold':
      return time(entry.lengthSeconds);
    case 'maximalInWater':
      return entry.distanceMeters === null ? time(entry.lengthSeconds) : `${entry.distanceMeters}\u202fm`;
  }
}

function EntryFields({
  entry,
  onChange,
}: {
  readonly entry: TrainingEntry;
  readonly onChange: (entry: TrainingEntry) => void;
}) {
  const { text } = useApp();
  const plans = text.plans;
  const words = plans.training;
  const stepper = (
    label: string,
    unit: string,
    value: number,
    least: number,
    most: number,
    step: number,
    set: (value: number) => void,
  ) => (
    <NumberStepper
      label={label}
      unit={unit}
      value={value}
      least={least}
      most={most}
      step={step}
      onChange={set}
    />
  );
  switch (entry.kind) {
    case 'poolSet':
      return (
        <>
          {stepper(plans.repetitions, 'count', entry.repetitions, 1, 60, 1, (repetitions) =>
            onChange({ ...entry, repetitions }),
          )}
          {stepper(plans.distance, 'm', entry.distanceMeters, 25, 400, 25, (distanceMeters) =>
            onChange({ ...entry, distanceMeters }),
          )}
          {stepper(plans.every, 'time', entry.everySeconds, 20, 900, 5, (everySeconds) =>
            onChange({ ...entry, everySeconds }),
          )}
          {stepper(plans.poolLength, 'm', entry.poolLengthMeters, 10, 50, 5, (poolLengthMeters) =>
            onChange({ ...entry, poolLengthMeters }),
          )}
          <label class="field">
            <span>{plans.breath}</span>
            <select
              value={entry.breath}
              onChange={(event) =>
                onChange({ ...entry, breath: event.currentTarget.value === 'one' ? 'one' : 'free' })
              }
            >
              <option value="free">{plans.breathFree}</option>
              <option value="one">{plans.breathOne}</option>
            </select>
          </label>
        </>
      );
    case 'timedSwim':
      return (
        <>
          {stepper(plans.poolLength, 'm', entry.poolLengthMeters, 10, 50, 5, (poolLengthMeters) =>
            onChange({ ...entry, poolLengthMeters }),
          )}
          {stepper(words.laps, 'count', entry.laps, 0, 100, 1, (laps) => onChange({ ...entry, laps }))}
          {stepper(words.further, 'm', entry.furtherMeters, 0, 50, 5, (furtherMeters) =>
            onChange({ ...entry, furtherMeters }),
          )}
          <p>{entrySummary(entry)}</p>
        </>
      );
    case 'apneaWalk':
      return (
        <>
          {stepper(plans.rounds, 'count', entry.rounds, 1, 24, 1, (rounds) => onChange({ ...entry, rounds }))}
          {stepper(plans.walkTime, 'time', entry.lengthSeconds ?? 0, 0, 300, 5, (lengthSeconds) =>
            onChange({ ...entry, lengthSeconds }),
          )}
          <label class="field">
            <span>{text.history.timer.steps}</span>
            <input
              type="number"
              min={1}
              max={2000}
              placeholder={text.history.timer.stepsUnknown}
              value={entry.steps ?? ''}
              onInput={(event) => {
                const steps = Math.round(Number(event.currentTarget.value));
                onChange({ ...entry, steps: steps >= 1 && steps <= 2_000 ? steps : null });
              }}
            />
          </label>
          <label class="tick">
            <input
              type="checkbox"
              checked={entry.maximal}
              onChange={(event) => onChange({ ...entry, maximal: event.currentTarget.checked })}
            />
            <span>{words.maximal}</span>
          </label>
        </>
      );
    case 'maximalDryHold':
      return stepper(plans.length, 'time', entry.lengthSeconds, 10, 900, 5, (lengthSeconds) =>
        onChange({ ...entry, lengthSeconds }),
      );
    case 'maximalInWater':
      return (
        <>
          <label class="field">
            <span>{words.discipline}</span>
            <select
              value={entry.discipline}
              onChange={(event) =>
                onChange(
                  event.currentTarget.value === 'static'
                    ? { ...entry, discipline: 'static', lengthSeconds: 120, distanceMeters: null }
                    : { ...entry, discipline: 'distance', lengthSeconds: null, distanceMeters: 25 },
                )
              }
            >
              <option value="distance">{words.disciplines.distance}</option>
              <option value="static">{words.disciplines.static}</option>
            </select>
          </label>
          {entry.distanceMeters === null
            ? stepper(plans.length, 'time', entry.lengthSeconds ?? 0, 10, 900, 5, (lengthSeconds) =>
                onChange({ ...entry, lengthSeconds }),
              )
            : stepper(plans.distance, 'm', entry.distanceMeters, 5, 300, 5, (distanceMeters) =>
                onChange({ ...entry, distanceMeters }),
              )}
        </>
      );
  }
}
