// Sensors that pair: what each wants of a person, with the time left and a way out; and the sensors that the computer keeps
// a key for, which can be forgotten.

import { useSignal } from '@preact/signals';
import type { PairingAnswer, PairingView, ShownSensor } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { Dialog } from '../../components/dialog.tsx';
import { Name } from '../../components/name.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { sensorName } from '../../components/sensor-name.ts';
import { isolated } from '../../state/format.ts';

const digits = 6;
const shownCode = (code: number): string => {
  const text = String(code).padStart(digits, '0');
  return `${text.slice(0, 3)}\u202f${text.slice(3)}`;
};

/** Nothing where no sensor pairs and no key is kept. */
export function SensorPairing() {
  const { text, hub, http } = useApp();
  const words = text.pairing;
  const problem = useSignal<string | null>(null);
  const forgetting = useSignal<ShownSensor | null>(null);
  const sensors = hub.sensors.value;
  const bonded = sensors.filter(({ isBonded }) => isBonded === true);
  const pairing = sensors.flatMap(({ pairing: asked, ...sensor }) =>
    asked === undefined ? [] : [{ sensor, asked }],
  );
  if (pairing.length + bonded.length === 0) return null;
  const tell = async (answer: Promise<{ ok: true } | { ok: false; reason: string }>) => {
    const told = await answer;
    problem.value = told.ok ? null : told.reason;
  };
  return (
    <section class="step">
      <h2>{words.title}</h2>
      <ProblemNotice problem={problem.value} />
      {pairing.map(({ sensor, asked }) => (
        <PairingRequest
          key={asked.requestId}
          name={sensorName(sensor, text)}
          asked={asked}
          onAnswer={(answer) => tell(http.answerPairing(sensor.sensorId, asked.requestId, answer))}
        />
      ))}
      {bonded.length === 0 ? null : (
        <>
          <p class="hint">{words.keptBy}</p>
          <ul class="device-list">
            {bonded.map((sensor) => (
              <li key={sensor.sensorId}>
                <span class="device-what">
                  <strong>
                    <Name>{sensorName(sensor, text)}</Name>
                  </strong>
                  <span>{words.isKept}</span>
                </span>
                <button type="button" class="button" onClick={() => (forgetting.value = sensor)}>
                  {words.forget(isolated(sensorName(sensor, text)))}
                </button>
              </li>
            ))}
          </ul>
        </>
      )}
      {forgetting.value === null ? null : (
        <Dialog
          title={words.forgetTitle(isolated(sensorName(forgetting.value, text)))}
          closeLabel={text.cancel}
          onClose={() => (forgetting.value = null)}
          actions={
            <button
              type="button"
              class="button button--primary"
              onClick={() => {
                const { sensorId } = forgetting.value!;
                forgetting.value = null;
                void tell(http.forgetBond(sensorId));
              }}
            >
              {words.forgetConfirm}
            </button>
          }
        >
          <p>{words.forgetText}</p>
        </Dialog>
      )}
    </section>
  );
}

interface PairingRequestProps {
  readonly name: string;
  readonly asked: PairingView;
  readonly onAnswer: (answer: PairingAnswer) => Promise<void>;
}

function PairingRequest({ name, asked, onAnswer }: PairingRequestProps) {
  const { text } = useApp();
  const words = text.pairing;
  const typed = useSignal('');
  const answered = useSignal(false);
  const code = typed.value.replaceAll(/\s/g, '');
  const isWhole = /^\d{6}$/.test(code);
  const answer = (given: PairingAnswer) => {
    answered.value = true;
    // Where it did not get there the same can be said again.
    void onAnswer(given).finally(() => (answered.value = false));
  };
  return (
    <form
      class="pairing"
      onSubmit={(event) => {
        event.preventDefault();
        if (asked.kind === 'compareCode') answer({ kind: 'same' });
        else if (isWhole) answer({ kind: 'code', code: Number(code) });
      }}
    >
      <h3>{words.wants(isolated(name))}</h3>
      <p>{words.what[asked.kind]}</p>
      {asked.code === null ? (
        <label class="field">
          <span>{words.code}</span>
          <input
            type="text"
            inputMode="numeric"
            autoComplete="off"
            maxLength={7}
            value={typed.value}
            onInput={(event) => (typed.value = event.currentTarget.value)}
          />
        </label>
      ) : (
        <p class="pairing-code">{shownCode(asked.code)}</p>
      )}
      <p class="hint" role="timer">
        {words.secondsLeft(asked.secondsLeft)}
      </p>
      <div class="pairing-actions">
        {asked.kind === 'showCode' ? null : (
          <button
            type="submit"
            class="button button--primary"
            disabled={answered.value || (asked.kind === 'typeCode' && !isWhole)}
          >
            {asked.kind === 'typeCode' ? words.pair : words.same}
          </button>
        )}
        <button
          type="button"
          class="button"
          disabled={answered.value}
          onClick={() => answer({ kind: 'cancel' })}
        >
          {asked.kind === 'compareCode' ? words.notSame : text.cancel}
        </button>
      </div>
    </form>
  );
}
