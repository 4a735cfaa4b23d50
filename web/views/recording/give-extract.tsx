// Giving one's own marked recording: shows what a labelled extract holds, asks what only the person knows, saves a file.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import {
  type LabelledExtract,
  lungsStatedSchema,
  type OximeterSite,
  oximeterSiteSchema,
} from '../../../shared/labelled-extract.ts';
import { Dialog } from '../../components/dialog.tsx';
import { useApp } from '../../shell/app-context.ts';
import { formatDuration } from '../../state/format.ts';

export interface GiveExtractProps {
  readonly sessionId: string;
  readonly athleteId: string;
  readonly onClose: () => void;
}

export function GiveExtract({ sessionId, athleteId, onClose }: GiveExtractProps) {
  const { text, http } = useApp();
  const words = text.extract;
  const extract = useSignal<LabelledExtract | null>(null);
  const problem = useSignal<string | null>(null);
  const withWave = useSignal(false);
  const agreed = useSignal(false);
  useEffect(() => {
    const asking = new AbortController();
    void http.labelledExtract(sessionId, athleteId, asking.signal).then((answer) => {
      if (asking.signal.aborted) return;
      if (answer.ok) extract.value = answer.value;
      else problem.value = words.failed(answer.reason);
    });
    return () => asking.abort();
  }, [sessionId, athleteId]);
  const whole = extract.value;
  const given =
    whole === null || withWave.value
      ? whole
      : { ...whole, series: whole.series.filter(({ channel }) => channel !== 'pleth') };
  const change = (part: Partial<LabelledExtract>) => {
    if (extract.value !== null) extract.value = { ...extract.value, ...part };
  };
  return (
    <Dialog
      title={words.title}
      onClose={onClose}
      actions={
        <button
          type="button"
          class="button button--primary"
          disabled={given === null || !agreed.value}
          onClick={() => given !== null && save(given)}
        >
          {words.save}
        </button>
      }
    >
      <p>{words.lead}</p>
      {problem.value === null ? null : <p class="notice notice--strong">{problem.value}</p>}
      {given === null && problem.value === null ? <p class="hint">{words.reading}</p> : null}
      {given === null ? null : (
        <>
          <Contents extract={given} onChange={change} />
          {whole!.series.some(({ channel }) => channel === 'pleth') ? (
            <Tick
              checked={withWave.value}
              label={words.wave}
              onTick={(ticked) => (withWave.value = ticked)}
            />
          ) : null}
          <p class="hint">{words.notInIt}</p>
          <p class="notice">{words.caution}</p>
          <Tick checked={agreed.value} label={words.agreed} onTick={(ticked) => (agreed.value = ticked)} />
        </>
      )}
    </Dialog>
  );
}

/** One name for every file: the day of the recording stays out of it too. */
function save(extract: LabelledExtract): void {
  const address = URL.createObjectURL(new Blob([JSON.stringify(extract)], { type: 'application/json' }));
  const link = document.createElement('a');
  link.href = address;
  link.download = 'labelled-extract.json';
  link.click();
  URL.revokeObjectURL(address);
}

interface TickProps {
  readonly checked: boolean;
  readonly label: string;
  readonly onTick: (ticked: boolean) => void;
}

function Tick({ checked, label, onTick }: TickProps) {
  return (
    <label class="tick">
      <input type="checkbox" checked={checked} onChange={(event) => onTick(event.currentTarget.checked)} />
      <span>{label}</span>
    </label>
  );
}

interface ContentsProps {
  readonly extract: LabelledExtract;
  readonly onChange: (part: Partial<LabelledExtract>) => void;
}

function Contents({ extract, onChange }: ContentsProps) {
  const { text } = useApp();
  const words = text.extract;
  const { holds, series, simulated, durationMs, oximeter, everyHoldIsMarked } = extract;
  const sayLungs = (index: number, value: string) => {
    const lungs = lungsStatedSchema.safeParse(value);
    onChange({
      holds: holds.map((hold, at) =>
        at === index ? { ...hold, lungs: lungs.success ? lungs.data : null } : hold,
      ),
    });
  };
  return (
    <>
      {simulated ? <p class="notice notice--strong">{words.simulated}</p> : null}
      <h3>{words.inIt}</h3>
      <ul>
        <li>
          {words.length}: {formatDuration(durationMs)}
        </li>
        {series.map(({ channel, sensor, values }) => (
          <li key={`${channel} ${sensor}`}>
            {words.channels[channel]}: {words.readings(values.length)}
          </li>
        ))}
      </ul>
      <h3>{words.holds}</h3>
      {holds.length === 0 ? <p class="notice">{words.noHolds}</p> : null}
      {holds.map(({ startMs, endMs, lungs }, index) => (
        <label class="field" key={startMs}>
          <span>{words.hold(index + 1, formatDuration(endMs - startMs))}</span>
          <select value={lungs ?? 'unsaid'} onChange={(event) => sayLungs(index, event.currentTarget.value)}>
            {(['unsaid', ...lungsStatedSchema.options] as const).map((each) => (
              <option key={each} value={each}>
                {words.lungs[each]}
              </option>
            ))}
          </select>
        </label>
      ))}
      <Tick
        checked={everyHoldIsMarked}
        label={words.everyHold}
        onTick={(ticked) => onChange({ everyHoldIsMarked: ticked })}
      />
      <label class="field">
        <span>{words.site}</span>
        <select
          value={oximeter ?? ''}
          onChange={(event) => {
            const { value } = event.currentTarget;
            onChange({ oximeter: value === '' ? null : (value as OximeterSite) });
          }}
        >
          <option value="">{words.unsaid}</option>
          {oximeterSiteSchema.options.map((site) => (
            <option key={site} value={site}>
              {words.sites[site]}
            </option>
          ))}
        </select>
      </label>
    </>
  );
}
