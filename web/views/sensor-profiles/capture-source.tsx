// Where the bytes come from: a sensor in the air that nobody wears, a capture file, or the example.

import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { sensorName } from '../../components/sensor-name.ts';
import { FileButton } from './file-button.tsx';
import { type Capture, saveText } from './use-capture.ts';

export interface CaptureSourceProps {
  readonly capture: Capture;
  readonly hasBench: boolean;
  /** Null while the profile is not in order. */
  readonly profileText: string | null;
}

export function CaptureSource({ capture, hasBench, profileText }: CaptureSourceProps) {
  const { text } = useApp();
  const words = text.profiles.capture;
  const { examined } = capture;
  return (
    <section class="step">
      <h2>{words.title}</h2>
      {capture.isSimulated.value ? <p class="notice notice--strong">{text.profiles.simulated}</p> : null}
      <ProblemNotice problem={capture.problem.value} />
      <div class="profile-buttons">
        {hasBench ? (
          <button type="button" class="button" onClick={() => (capture.looks.value = !capture.looks.value)}>
            {capture.looks.value ? words.stop : words.look}
          </button>
        ) : null}
        <FileButton label={words.file} accept=".txt" onText={(content) => capture.takeText(content, false)} />
        {capture.packets.value.length === 0 ? null : (
          <button
            type="button"
            class="button button--quiet"
            onClick={() =>
              saveText('capture.txt', capture.asFile(examined.value?.sensor.name ?? text.profiles.bytes))
            }
          >
            {words.saveCapture}
          </button>
        )}
      </div>
      <p class="hint">{hasBench ? words.fileHint : `${words.noRadio} ${words.fileHint}`}</p>
      {capture.looks.value ? <Around capture={capture} profileText={profileText} /> : null}
      {examined.value === null ? null : <ExaminedSensor capture={capture} profileText={profileText} />}
    </section>
  );
}

function Around({ capture, profileText }: Pick<CaptureSourceProps, 'capture' | 'profileText'>) {
  const { text } = useApp();
  const words = text.profiles.capture;
  const heard = capture.around.value ?? [];
  return (
    <>
      <p role="status">{words.looking}</p>
      <ul class="device-list">
        {heard.map(({ sensorId, name, rssiDbm, isWorn }) => (
          <li key={sensorId}>
            <span class="device-what">
              <strong>{name}</strong>
              <span>
                {[sensorId, rssiDbm === null ? '' : words.signal(rssiDbm), isWorn ? words.worn : '']
                  .filter((part) => part !== '')
                  .join(', ')}
              </span>
            </span>
            <button
              type="button"
              class="button"
              disabled={isWorn}
              onClick={() => void capture.listen(sensorId, profileText)}
            >
              {words.listen}
            </button>
          </li>
        ))}
      </ul>
    </>
  );
}

function ExaminedSensor({ capture, profileText }: Pick<CaptureSourceProps, 'capture' | 'profileText'>) {
  const { text, say } = useApp();
  const words = text.profiles.capture;
  const { sensor, characteristics } = capture.examined.value!;
  const isSilent = capture.packets.value.length === 0 && characteristics.length > 0;
  return (
    <div class="profile-examined">
      <p>
        <strong>{sensorName(sensor, text)}</strong> {text.sensor.link[sensor.link]}
        {sensor.detail === null ? '' : `: ${say(sensor.detail)}`}
      </p>
      {isSilent ? <p class="notice">{words.silent}</p> : null}
      <div class="profile-buttons">
        <button
          type="button"
          class="button"
          disabled={profileText === null}
          onClick={() => void capture.listen(sensor.sensorId, profileText)}
        >
          {words.listenWith}
        </button>
        <button type="button" class="button button--quiet" onClick={() => void capture.stop()}>
          {words.stop}
        </button>
      </div>
      {characteristics.length === 0 ? null : (
        <details class="explain" open={isSilent}>
          <summary>{words.table}</summary>
          <ul class="profile-table">
            {characteristics.map(({ service, characteristic, properties }) => (
              <li key={`${service} ${characteristic}`}>
                <code>{characteristic}</code> <small>{`${properties.join(', ')} (${service})`}</small>
              </li>
            ))}
          </ul>
        </details>
      )}
    </div>
  );
}
