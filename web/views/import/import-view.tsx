// Importing a recording: choose a file, see what is in it, say what each column is and whose it is, take it in.

import { type Signal, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import {
  type ImportedBody,
  type ImportPlan,
  type ImportPreview,
  type ImportProgress,
  importChannelSchema,
  type importDateOrderSchema,
  importTimeUnitSchema,
  importUnits,
} from '../../../shared/http.ts';
import type { Said } from '../../../shared/said.ts';
import { wallMs } from '../../../shared/units.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { ChoiceField } from '../../components/choice-field.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { useAthletes } from '../../components/use-athletes.ts';
import { formatDuration, formatWallTime } from '../../state/format.ts';

type ImportChannel = keyof typeof importUnits;
type DateOrder = (typeof importDateOrderSchema.options)[number];
type TimeUnit = (typeof importTimeUnitSchema.options)[number];
/** What a column is read as; columns left out have none. */
type Choices = ReadonlyMap<number, { readonly channel: ImportChannel; readonly factor: number }>;

/** As the hub allows (routes/imports.ts). */
const mostMebibytes = 1_024;
/** How often the page asks how far an import is. */
const askEveryMs = 400;

export function ImportView() {
  const { text, http } = useApp();
  const words = text.import;
  useDocumentTitle(words.title);
  const file = useSignal<File | null>(null);
  const preview = useSignal<ImportPreview | null>(null);
  const problem = useSignal<string | null>(null);
  const busy = useSignal(false);
  const done = useSignal<ImportedBody | null>(null);

  const underWay = useUnderWay();

  const look = async (chosen: File | undefined, timeZone?: string) => {
    underWay.cancel();
    file.value = chosen ?? null;
    if (timeZone === undefined) preview.value = null;
    problem.value = null;
    if (chosen === undefined) return;
    if (chosen.size > mostMebibytes * 2 ** 20) {
      problem.value = words.tooLarge(mostMebibytes);
      return;
    }
    busy.value = true;
    const answer = await underWay.run((options) => http.previewImport(chosen, { ...options, timeZone }));
    // Another file may have been chosen meanwhile, or nothing more wanted of this one.
    if (file.value !== chosen) return;
    busy.value = false;
    if (answer === undefined) return;
    if (answer.ok) preview.value = answer.value;
    else problem.value = answer.reason;
  };

  return (
    <article class="sheet sheet--wide">
      <a class="button button--quiet back-link" href="/recordings">
        {'\u2190'} {words.back}
      </a>
      <h1>{words.title}</h1>
      <p class="hint">{words.lead}</p>
      {done.value === null ? (
        <>
          <label class="field">
            <span>{words.file}</span>
            <input
              type="file"
              accept=".csv,.txt,.tsv,.edf,.bdf,.rec,.zip"
              onChange={(event) => void look(event.currentTarget.files?.[0])}
            />
          </label>
          {busy.value ? (
            <UnderWay
              progress={underWay.progress.value}
              onCancel={() => {
                underWay.cancel();
                busy.value = false;
              }}
            />
          ) : null}
          <ProblemNotice problem={problem.value} />
          {file.value === null || preview.value === null ? null : (
            <Mapping
              key={`${file.value.name} ${file.value.lastModified} ${preview.value.timeZone}`}
              file={file.value}
              underWay={underWay}
              lookAgain={(timeZone) => void look(file.value ?? undefined, timeZone)}
              preview={preview.value}
              busy={busy}
              problem={problem}
              done={done}
            />
          )}
        </>
      ) : (
        <section class="step" role="status">
          <p>
            <strong>{words.done}</strong>
          </p>
          <Notices notices={done.value.notices} />
          <p class="button-row">
            <a class="button button--primary" href={`/recordings/${done.value.sessionId}`}>
              {words.show}
            </a>
            <button
              type="button"
              class="button"
              onClick={() => {
                done.value = null;
                file.value = null;
                preview.value = null;
              }}
            >
              {words.another}
            </button>
          </p>
        </section>
      )}
    </article>
  );
}

type ImportOptions = { readonly importId: string; readonly signal: AbortSignal };
interface UnderWayWork {
  readonly progress: Signal<ImportProgress | null>;
  /** Undefined where it was cancelled. */
  run<Answer>(work: (options: ImportOptions) => Promise<Answer>): Promise<Answer | undefined>;
  cancel(): void;
}

/** One request at a time, how far it is, and a way to be done with it. */
function useUnderWay(): UnderWayWork {
  const { http } = useApp();
  const progress = useSignal<ImportProgress | null>(null);
  const abort = useRef<AbortController | null>(null);
  useEffect(() => () => abort.current?.abort(), []);
  return {
    progress,
    async run(work) {
      const own = new AbortController();
      abort.current = own;
      progress.value = null;
      const importId = crypto.randomUUID?.() ?? String(Math.random()).slice(2);
      const asking = setInterval(() => {
        void http.importProgress(importId).then((answer) => {
          if (abort.current === own && answer.ok) progress.value = answer.value.progress;
        });
      }, askEveryMs);
      try {
        const answer = await work({ importId, signal: own.signal });
        return own.signal.aborted ? undefined : answer;
      } finally {
        clearInterval(asking);
      }
    },
    cancel() {
      abort.current?.abort();
    },
  };
}

interface UnderWayProps {
  readonly progress: ImportProgress | null;
  readonly onCancel: () => void;
}

function UnderWay({ progress, onCancel }: UnderWayProps) {
  const words = useApp().text.import;
  const what = words.steps[progress?.step ?? 'sending'];
  return (
    <p class="button-row" role="status">
      <label>
        {what} <progress max={1} value={progress?.share ?? 0} />
      </label>
      <button type="button" class="button" onClick={onCancel}>
        {words.cancel}
      </button>
    </p>
  );
}

function Notices({ notices }: { readonly notices: readonly Said[] }) {
  const { say } = useApp();
  return (
    <ul class="plain-list">
      {notices.map(say).map((sentence) => (
        <li key={sentence} class="hint">
          {sentence}
        </li>
      ))}
    </ul>
  );
}

interface MappingProps {
  readonly file: File;
  readonly preview: ImportPreview;
  readonly busy: Signal<boolean>;
  readonly problem: Signal<string | null>;
  readonly done: Signal<ImportedBody | null>;
  readonly underWay: UnderWayWork;
  readonly lookAgain: (timeZone: string) => void;
}

function Mapping({ file, preview, busy, problem, done, underWay, lookAgain }: MappingProps) {
  const { text, http } = useApp();
  const words = text.import;
  const choices = useSignal<Choices>(
    new Map(
      preview.columns.flatMap(({ index, suggested }) =>
        suggested === null ? [] : [[index, suggested] as const],
      ),
    ),
  );
  const time = useSignal(preview.time);
  const isTable = preview.format === 'wideCsv';
  const known = useAthletes((reason) => {
    problem.value = reason;
  });
  const athletes = (known.value ?? []).filter((athlete) => athlete.simulated || !preview.simulated);
  const athleteId = useSignal('');
  const newName = useSignal(preview.suggestedAthleteName ?? '');
  const title = useSignal(preview.suggestedTitle);
  const startedAt = useSignal('');
  const needsStart = preview.startedWallAtMs === null && !(isTable && isWallTime(time.value?.unit));
  const needsOrder = preview.dateOrderAmbiguous && (time.value?.unit === 'dateTime' || preview.time === null);
  const dateOrder = useSignal<DateOrder | ''>('');

  const submit = async (event: Event) => {
    event.preventDefault();
    busy.value = true;
    problem.value = null;
    const startedWallAtMs =
      needsStart && startedAt.value !== '' ? wallMs(new Date(startedAt.value).getTime()) : null;
    const plan: ImportPlan = {
      ...(athleteId.value === '' ? { newAthleteName: newName.value.trim() } : { athleteId: athleteId.value }),
      title: title.value.trim(),
      ...(startedWallAtMs !== null && { startedWallAtMs }),
      ...(preview.columnsMayChange && {
        columns: [...choices.value].map(([index, choice]) => ({ index, ...choice })),
      }),
      ...(isTable &&
        time.value !== null && {
          time: { ...time.value, dateOrder: needsOrder ? dateOrder.value || null : time.value.dateOrder },
        }),
      timeZone: preview.timeZone,
    };
    const answer = await underWay.run((options) => http.importFile(file, plan, options));
    busy.value = false;
    if (answer === undefined) return;
    if (answer.ok) done.value = answer.value;
    else problem.value = answer.reason;
  };

  return (
    <form onSubmit={(event) => void submit(event)}>
      <section class="step">
        <h2>{words.what}</h2>
        {preview.simulated ? <p class="notice notice--strong">{words.simulated}</p> : null}
        <p>
          {words.format[preview.format]} {'\u00b7'} {words.length} {formatDuration(preview.durationMs)}{' '}
          {'\u00b7'} {words.started}:{' '}
          {preview.startedWallAtMs === null ? words.startedUnknown : formatWallTime(preview.startedWallAtMs)}{' '}
          {'\u00b7'} {words.marks(preview.markCount)}
        </p>
        <Notices notices={preview.notices} />
        {preview.startIsLocal ? (
          <ZoneChoice timeZone={preview.timeZone} busy={busy.value} lookAgain={lookAgain} />
        ) : null}
        {needsOrder ? (
          <ChoiceField<DateOrder | ''>
            label={words.dateOrder}
            required
            value={dateOrder.value}
            choices={[
              ['', words.dateOrderUnsaid],
              ['dayFirst', words.dayFirst],
              ['monthFirst', words.monthFirst],
            ]}
            onChange={(order) => (dateOrder.value = order)}
          />
        ) : null}
        {preview.format === 'session' ? (
          <p class="hint">{words.wholeSession}</p>
        ) : (
          <>
            <ColumnTable preview={preview} choices={choices} time={time} />
            <p class="hint">{words.quality}</p>
          </>
        )}
      </section>
      <section class="step">
        <h2>{words.whose}</h2>
        <AthleteField
          label={words.athlete}
          athletes={athletes}
          athleteId={athleteId.value}
          nobody={words.newAthlete}
          onChange={(id) => (athleteId.value = id)}
        />
        {athleteId.value === '' ? (
          <label class="field">
            <span>{words.name}</span>
            <input
              type="text"
              required
              maxLength={80}
              value={newName.value}
              onInput={(event) => (newName.value = event.currentTarget.value)}
            />
          </label>
        ) : null}
        <label class="field">
          <span>{words.sessionTitle}</span>
          <input
            type="text"
            maxLength={200}
            value={title.value}
            onInput={(event) => (title.value = event.currentTarget.value)}
          />
        </label>
        {needsStart ? (
          <label class="field">
            <span>{words.startsAt}</span>
            <input
              type="datetime-local"
              step="1"
              required
              value={startedAt.value}
              onInput={(event) => (startedAt.value = event.currentTarget.value)}
            />
          </label>
        ) : null}
        <button type="submit" class="button button--primary" disabled={busy.value}>
          {busy.value ? words.importing : words.submit}
        </button>
      </section>
    </form>
  );
}

const isWallTime = (unit: TimeUnit | undefined): boolean =>
  unit === 'dateTime' || unit === 'serialDays' || unit === 'unixS' || unit === 'unixMs' || unit === 'unixUs';

interface ZoneChoiceProps {
  readonly timeZone: string;
  readonly busy: boolean;
  readonly lookAgain: (timeZone: string) => void;
}

/** Times without a zone: by whose clock. */
function ZoneChoice({ timeZone, busy, lookAgain }: ZoneChoiceProps) {
  const words = useApp().text.import;
  const zones = [...new Set([timeZone, 'UTC', ...Intl.supportedValuesOf('timeZone')])];
  return (
    <label class="field">
      <span>{words.timeZone}</span>
      <select
        aria-label={words.timeZone}
        value={timeZone}
        disabled={busy}
        onChange={(event) => lookAgain(event.currentTarget.value)}
      >
        {zones.map((zone) => (
          <option key={zone} value={zone}>
            {zone}
          </option>
        ))}
      </select>
      <span class="hint">{words.timeZoneHint}</span>
    </label>
  );
}

const noDates = { dateColumn: null, dateOrder: null } as const;

interface ColumnTableProps {
  readonly preview: ImportPreview;
  readonly choices: Signal<Choices>;
  readonly time: Signal<ImportPreview['time']>;
}

function ColumnTable({ preview, choices, time }: ColumnTableProps) {
  const { text } = useApp();
  const words = text.import;
  const isTable = preview.format === 'wideCsv';
  const readAs = (index: number, value: string) => {
    const next = new Map(choices.value);
    next.delete(index);
    if (value === 'time')
      time.value = { ...noDates, ...time.value, column: index, unit: time.value?.unit ?? 's' };
    else {
      if (time.value?.column === index) time.value = null;
      const channel = importChannelSchema.options.find((option) => option === value);
      if (channel !== undefined) next.set(index, { channel, factor: 1 });
    }
    choices.value = next;
  };
  return (
    <ScrollRegion label={words.columns}>
      <table class="plan-table">
        <caption>{words.columns}</caption>
        <thead>
          <tr>
            <th scope="col">{words.column}</th>
            <th scope="col">{words.values}</th>
            <th scope="col">{words.readAs}</th>
            <th scope="col">{words.unit}</th>
          </tr>
        </thead>
        <tbody>
          {preview.columns.map(({ index, name, unit, examples }) => {
            const isTime = isTable && time.value?.column === index;
            const choice = choices.value.get(index);
            return (
              <tr key={index}>
                <th scope="row">
                  {name}
                  {unit === '' ? null : ` (${unit})`}
                </th>
                <td>{examples.join(', ')}</td>
                <td>
                  <select
                    aria-label={words.readAsOf(name)}
                    disabled={!preview.columnsMayChange}
                    value={isTime ? 'time' : (choice?.channel ?? '')}
                    onChange={(event) => readAs(index, event.currentTarget.value)}
                  >
                    <option value="">{words.leaveOut}</option>
                    {isTable ? <option value="time">{words.time}</option> : null}
                    {importChannelSchema.options.map((channel) => (
                      <option key={channel} value={channel}>
                        {words.channels[channel]}
                      </option>
                    ))}
                  </select>
                </td>
                <td>
                  {isTime ? (
                    <select
                      aria-label={words.unitOf(name)}
                      value={time.value?.unit}
                      onChange={(event) => {
                        const chosen = importTimeUnitSchema.options.find(
                          (one) => one === event.currentTarget.value,
                        );
                        if (chosen !== undefined)
                          time.value = { ...noDates, ...time.value, column: index, unit: chosen };
                      }}
                    >
                      {importTimeUnitSchema.options.map((one) => (
                        <option key={one} value={one}>
                          {words.timeUnits[one]}
                        </option>
                      ))}
                    </select>
                  ) : choice === undefined ? null : (
                    <select
                      aria-label={words.unitOf(name)}
                      disabled={!preview.columnsMayChange}
                      value={String(choice.factor)}
                      onChange={(event) => {
                        const factor = Number(event.currentTarget.value);
                        choices.value = new Map(choices.value).set(index, { ...choice, factor });
                      }}
                    >
                      {importUnits[choice.channel].map(({ label, factor }) => (
                        <option key={label} value={String(factor)}>
                          {label}
                        </option>
                      ))}
                    </select>
                  )}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </ScrollRegion>
  );
}
