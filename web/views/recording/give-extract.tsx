// Giving one's own marked recording: shows what a labelled extract holds, asks what only the person knows, saves a file.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import {
  type LabelledExtract,
  type LungsStated,
  lungsStatedSchema,
  type OximeterSite,
  oximeterSiteSchema,
} from '../../../shared/labelled-extract.ts';
import { useApp } from '../../app/app-context.ts';
import { type Choice, ChoiceField } from '../../components/choice-field.tsx';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { Tick } from '../../components/tick.tsx';
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
      <ProblemNotice problem={problem.value} />
      {given === null && problem.value === null ? <p class="hint">{words.reading}</p> : null}
      {given === null ? null : (
        <>
          <Contents extract={given} onChange={change} />
          {whole!.series.some(({ channel }) => channel === 'pleth') ? (
            <Tick checked={withWave.value} onChange={(on) => (withWave.value = on)}>
              {words.wave}
            </Tick>
          ) : null}
          <p class="hint">{words.notInIt}</p>
          <p class="notice">{words.caution}</p>
          <Tick checked={agreed.value} onChange={(on) => (agreed.value = on)}>
            {words.agreed}
          </Tick>
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

interface ContentsProps {
  readonly extract: LabelledExtract;
  readonly onChange: (part: Partial<LabelledExtract>) => void;
}

function Contents({ extract, onChange }: ContentsProps) {
  const { text } = useApp();
  const words = text.extract;
  const { holds, series, simulated, durationMs, oximeter, everyHoldIsMarked } = extract;
  const sayLungs = (index: number, lungs: LungsStated | null) =>
    onChange({ holds: holds.map((hold, at) => (at === index ? { ...hold, lungs } : hold)) });
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
        <ChoiceField
          key={startMs}
          label={words.hold(index + 1, formatDuration(endMs - startMs))}
          value={lungs ?? 'unsaid'}
          choices={(['unsaid', ...lungsStatedSchema.options] as const).map((each) => [
            each,
            words.lungs[each],
          ])}
          onChange={(chosen) => sayLungs(index, chosen === 'unsaid' ? null : chosen)}
        />
      ))}
      <Tick checked={everyHoldIsMarked} onChange={(on) => onChange({ everyHoldIsMarked: on })}>
        {words.everyHold}
      </Tick>
      <ChoiceField<OximeterSite | ''>
        label={words.site}
        value={oximeter ?? ''}
        choices={[
          ['', words.unsaid],
          ...oximeterSiteSchema.options.map((site): Choice<OximeterSite> => [site, words.sites[site]]),
        ]}
        onChange={(site) => onChange({ oximeter: site === '' ? null : site })}
      />
    </>
  );
}
