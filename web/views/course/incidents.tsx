// The incident log: writing down what happened, and saying that it was read.

import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { Incident, Participant } from '../../../shared/course.ts';
import { wallMs } from '../../../shared/units.ts';
import { useApp } from '../../app/app-context.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { formatList, formatWallTime, isolated } from '../../state/format.ts';
import { dayOf } from '../../state/statements.ts';

/** "2026-05-12T18:05", as a field for a local time wants it. */
function localMinuteOf(wall: number): string {
  const at = new Date(wall);
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${dayOf(wall)}T${two(at.getHours())}:${two(at.getMinutes())}`;
}

export function Incidents({ people }: { readonly people: readonly Participant[] }) {
  const { text, http } = useApp();
  const words = text.course.papers;
  const incidents = useSignal<readonly Incident[]>([]);
  const name = useSignal('');
  const problem = useSignal<string | null>(null);
  const ask = useInOrder();
  const load = async () => {
    const isNews = ask();
    const answer = await http.course.incidents();
    if (!isNews()) return;
    if (answer.ok) incidents.value = answer.value.incidents;
    else problem.value = answer.reason;
  };
  useEffect(() => {
    void load();
  }, []);
  const read = async (incidentId: string) => {
    const answer = await http.course.acknowledgeIncident(incidentId, name.value);
    problem.value = answer.ok ? null : answer.reason;
    await load();
  };
  return (
    <>
      <label class="field field--narrow">
        <span>{words.incidentBy}</span>
        <input
          type="text"
          maxLength={80}
          autocomplete="name"
          value={name.value}
          onInput={(event) => (name.value = event.currentTarget.value)}
        />
      </label>
      <NewIncident people={people} by={name.value} onWritten={load} />
      {problem.value === null ? null : (
        <p class="problem" role="alert">
          {problem.value}
        </p>
      )}
      {incidents.value.length === 0 ? <p class="hint">{words.incidentsNone}</p> : null}
      <ul class="papers-list">
        {incidents.value.map(({ incidentId, atWallMs, athleteId, what, done, by, acknowledgements }) => (
          <li key={incidentId}>
            <strong>{formatWallTime(atWallMs)}</strong>{' '}
            <span class="hint">
              {formatList(
                [isolated(people.find((one) => one.athleteId === athleteId)?.name ?? ''), by].filter(
                  (part) => part !== '',
                ),
              )}
            </span>
            <p>{what}</p>
            {done === '' ? null : (
              <p>
                {words.incidentDone}: {done}
              </p>
            )}
            <p class="hint">
              {acknowledgements.length === 0
                ? words.incidentUnread
                : words.incidentReadBy(formatList(acknowledgements.map((one) => isolated(one.name))))}
            </p>
            <button type="button" class="button" onClick={() => void read(incidentId)}>
              {words.incidentRead}
            </button>
          </li>
        ))}
      </ul>
    </>
  );
}

function NewIncident({
  people,
  by,
  onWritten,
}: {
  readonly people: readonly Participant[];
  readonly by: string;
  readonly onWritten: () => Promise<void>;
}) {
  const { text, http } = useApp();
  const words = text.course.papers;
  const when = useSignal(localMinuteOf(Date.now()));
  const athleteId = useSignal('');
  const what = useSignal('');
  const done = useSignal('');
  const problem = useSignal<string | null>(null);
  /** What the hub has not answered yet: pressed again it is no second incident. */
  const onItsWay = useRef(new Set<string>());
  const write = async (event: Event) => {
    event.preventDefault();
    if (what.value.trim() === '') {
      problem.value = words.incidentNeedsText;
      return;
    }
    const sent = { what: what.value, done: done.value };
    const whole = JSON.stringify([when.value, athleteId.value, sent, by]);
    if (onItsWay.current.has(whole)) return;
    onItsWay.current.add(whole);
    const answer = await http.course.writeIncident({
      atWallMs: wallMs(Date.parse(when.value) || Date.now()),
      athleteId: athleteId.value || null,
      ...sent,
      by,
    });
    onItsWay.current.delete(whole);
    problem.value = answer.ok ? null : answer.reason;
    if (!answer.ok) return;
    // What was typed since is the next one's.
    if (what.value === sent.what) what.value = '';
    if (done.value === sent.done) done.value = '';
    await onWritten();
  };
  return (
    <form class="card-form" onSubmit={(event) => void write(event)}>
      <label class="field field--narrow">
        <span>{words.incidentWhen}</span>
        <input
          type="datetime-local"
          value={when.value}
          onInput={(event) => (when.value = event.currentTarget.value)}
        />
      </label>
      <AthleteField
        label={words.incidentWhom}
        athletes={people}
        athleteId={athleteId.value}
        nobody={words.incidentNobody}
        narrow
        onChange={(id) => (athleteId.value = id)}
      />
      {(
        [
          [words.incidentWhat, what],
          [words.incidentDone, done],
        ] as const
      ).map(([label, field]) => (
        <label key={label} class="field">
          <span>{label}</span>
          <textarea
            rows={3}
            maxLength={2_000}
            value={field.value}
            onInput={(event) => (field.value = event.currentTarget.value)}
          />
        </label>
      ))}
      <div class="recording-actions">
        <button type="submit" class="button">
          {words.incidentWrite}
        </button>
      </div>
      {problem.value === null ? null : (
        <p class="problem" role="alert">
          {problem.value}
        </p>
      )}
    </form>
  );
}
