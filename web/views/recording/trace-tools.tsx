// The tools over a recording's traces: the range in words, and a button for everything that keys, wheel and fingers do.

import { type Signal, useComputed, useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { formatDuration } from '../../state/format.ts';
import { type TimeRange, zoomMiddle } from '../../state/time-range.ts';
import type { OwnScales, ScaleMode, TraceView } from './use-trace-view.ts';

export interface TraceToolsProps {
  readonly view: TraceView;
  readonly whole: TimeRange;
  readonly raw: Signal<boolean>;
  readonly workedOut: boolean;
  readonly hasHolds: boolean;
  readonly onPicture: () => void;
}

export function TraceTools({ view, whole, raw, workedOut, hasHolds, onPicture }: TraceToolsProps) {
  const { text } = useApp();
  const words = text.recording;
  const traces = text.traces;
  const correction = text.history.correction;
  const { range } = view;
  const zoomBy = (factor: number) => {
    range.value = zoomMiddle(range.value, factor, whole);
  };
  const jump = (label: string, shown: string, keys: string, act: () => void) => (
    <button
      type="button"
      class="button"
      aria-label={label}
      title={label}
      aria-keyshortcuts={keys}
      onClick={act}
    >
      {shown}
    </button>
  );
  return (
    <div class="review-tools">
      <p class="review-range">
        {useComputed(
          () =>
            `${formatDuration(range.value.fromSeconds * 1000)} \u2013 ${formatDuration(range.value.toSeconds * 1000)}`,
        )}
        {workedOut ? null : <small class="review-working">{words.workingOutShort}</small>}
      </p>
      <div class="tool-group">
        {hasHolds ? (
          <>
            {jump(traces.previousHold, `\u2039 ${traces.hold}`, 'p', () => view.jumpToHold(-1))}
            {jump(traces.nextHold, `${traces.hold} \u203a`, 'n', () => view.jumpToHold(1))}
          </>
        ) : null}
        {jump(traces.previousEvent, `\u2039 ${traces.event}`, 'Shift+P', () => view.jumpToEvent(-1))}
        {jump(traces.nextEvent, `${traces.event} \u203a`, 'Shift+N', () => view.jumpToEvent(1))}
      </div>
      <div class="tool-group">
        <button type="button" class="button" aria-keyshortcuts="+" onClick={() => zoomBy(0.6)}>
          {words.zoomIn}
        </button>
        <button type="button" class="button" aria-keyshortcuts="-" onClick={() => zoomBy(1 / 0.6)}>
          {words.zoomOut}
        </button>
        <button type="button" class="button" aria-keyshortcuts="0" onClick={() => (range.value = whole)}>
          {words.all}
        </button>
      </div>
      <PointTools view={view} />
      <details class="tool-more">
        <summary class="button">{traces.more}</summary>
        <div class="tool-group">
          <button
            type="button"
            class="button"
            aria-pressed={raw.value}
            onClick={() => (raw.value = !raw.value)}
          >
            {correction.signals}: {raw.value ? correction.raw : correction.cleaned}
          </button>
          <Scales view={view} />
          <button type="button" class="button" onClick={onPicture}>
            {traces.picture.open}
          </button>
        </div>
        <p class="hint tool-keys">{traces.keys}</p>
      </details>
    </div>
  );
}

/** Two points to measure between; while there is a cursor, they can be put where it is. */
function PointTools({ view }: { readonly view: TraceView }) {
  const words = useApp().text.traces;
  const isMeasuring = useComputed(() => view.points.value !== null).value;
  const hasCursor = useComputed(() => view.pinned.value !== null).value;
  return (
    <div class="tool-group tool-group--points">
      <button type="button" class="button" aria-pressed={isMeasuring} onClick={() => view.measureHere()}>
        {words.measure}
      </button>
      {isMeasuring && hasCursor
        ? (['a', 'b'] as const).map((which) => (
            <button
              key={which}
              type="button"
              class="button"
              aria-keyshortcuts={which === 'a' ? '1' : '2'}
              onClick={() => {
                const at = view.pinned.value;
                if (at !== null) view.setPoint(which, at);
              }}
            >
              {words.toCursor[which]}
            </button>
          ))
        : null}
    </div>
  );
}

const bounds = { spo2: [0, 100], heartRate: [0, 300] } as const;

function Scales({ view }: { readonly view: TraceView }) {
  const { text } = useApp();
  const words = text.traces.scales;
  const mode = view.scaleMode.value;
  return (
    <>
      <ChoiceField<ScaleMode>
        label={words.label}
        value={mode}
        choices={[
          ['usual', words.usual],
          ['fitted', words.fitted],
          ['own', words.own],
        ]}
        onChange={(chosen) => (view.scaleMode.value = chosen)}
      />
      {mode === 'own'
        ? (['spo2', 'heartRate'] as const).map((quantity) => (
            <OwnScale
              key={quantity}
              label={text.readout[quantity === 'spo2' ? 'spo2Short' : 'heartRateShort']}
              quantity={quantity}
              scales={view.ownScales}
            />
          ))
        : null}
    </>
  );
}

interface OwnScaleProps {
  readonly label: string;
  readonly quantity: keyof OwnScales;
  readonly scales: Signal<OwnScales>;
}

/** Two numbers; taken when they make a scale, kept as typed until then. */
function OwnScale({ label, quantity, scales }: OwnScaleProps) {
  const words = useApp().text.traces.scales;
  const typed = useSignal<readonly [string, string]>([
    String(scales.peek()[quantity][0]),
    String(scales.peek()[quantity][1]),
  ]);
  const [least, most] = bounds[quantity];
  const set = (index: 0 | 1, given: string) => {
    const next: readonly [string, string] = index === 0 ? [given, typed.value[1]] : [typed.value[0], given];
    typed.value = next;
    const [from, to] = next.map(Number) as [number, number];
    const isScale = next.every((each) => each.trim() !== '') && from >= least && to <= most && to - from >= 2;
    if (isScale) scales.value = { ...scales.value, [quantity]: [from, to] };
  };
  return (
    <>
      {([0, 1] as const).map((index) => (
        <label key={index} class="field own-scale">
          <span>{index === 0 ? words.from(label) : words.to(label)}</span>
          <input
            type="number"
            inputMode="numeric"
            min={least}
            max={most}
            value={typed.value[index]}
            onInput={(event) => set(index, event.currentTarget.value)}
          />
        </label>
      ))}
    </>
  );
}
