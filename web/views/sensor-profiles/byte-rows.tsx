// The captured packets as rows of bytes, each byte marked by what the profile takes it for; what was refused, by row and place; and what
// each packet comes to. A byte can be chosen, to make a field of it.

import type { ExplainedByte, ExplainedPacket, Explanation } from '../../../src/profiles/explain-capture.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';

/** Rows that are drawn; all are read. */
const shownRows = 40;
const shownRefused = 8;
/** Kinds of marks for fields, told apart by edge and ground (sensor-profiles.css); then they begin anew. */
const markCount = 6;

export interface ByteRowsProps {
  readonly explanation: Explanation;
  readonly profile: SensorProfile | null;
  readonly chosen: number | null;
  readonly onChoose: (place: number) => void;
}

export function ByteRows({ explanation, profile, chosen, onChoose }: ByteRowsProps) {
  const { text } = useApp();
  const words = text.profiles;
  const { packets } = explanation;
  const first = Math.max(0, packets.length - shownRows);
  return (
    <>
      <FieldKey profile={profile} />
      {packets.length === 0 ? <p class="hint">{words.rows.none}</p> : null}
      {first === 0 ? null : <p class="hint">{words.rows.more(first)}</p>}
      <ScrollRegion label={words.bytes} class="byte-scroll">
        <ol class="byte-rows" start={first + 1}>
          {packets.slice(first).map((packet, index) => (
            <li key={first + index}>
              <span class="byte-time">{(packet.atMs / 1_000).toFixed(2)}</span>
              <span class="byte-row">
                {packet.bytes.map((byte, at) => (
                  <ByteButton
                    key={at}
                    byte={byte}
                    row={first + index + 1}
                    at={at}
                    profile={profile}
                    isChosen={chosen !== null && (byte.place ?? at) === chosen}
                    onChoose={() => onChoose(byte.place ?? at)}
                  />
                ))}
              </span>
              <span class="byte-comes">{becomes(packet, words.gives, words.rows.noReading)}</span>
            </li>
          ))}
        </ol>
      </ScrollRegion>
      <Refused explanation={explanation} />
    </>
  );
}

/** Which mark stands for which field. */
function FieldKey({ profile }: { readonly profile: SensorProfile | null }) {
  const { text } = useApp();
  const words = text.profiles;
  if (profile === null) return null;
  return (
    <ul class="byte-key">
      {profile.fields.map(({ gives }, field) => (
        <li key={field}>
          <span class={`byte byte--field byte--mark${field % markCount}`}>{field + 1}</span>{' '}
          {words.gives[gives]}
        </li>
      ))}
      {(['sync', 'length', 'checksum', 'refused', 'outside'] as const).map((role) => (
        <li key={role}>
          <span class={`byte byte--${role}`}>00</span> {words.roles[role]}
        </li>
      ))}
    </ul>
  );
}

interface ByteButtonProps {
  readonly byte: ExplainedByte;
  readonly row: number;
  readonly at: number;
  readonly profile: SensorProfile | null;
  readonly isChosen: boolean;
  readonly onChoose: () => void;
}

function ByteButton({ byte, row, at, profile, isChosen, onChoose }: ByteButtonProps) {
  const { text } = useApp();
  const words = text.profiles;
  const hex = byte.value.toString(16).padStart(2, '0');
  const names = byte.fields.map((field) => words.gives[profile!.fields[field]!.gives]);
  const what = [
    names.length > 0 ? names.join(', ') : words.roles[byte.role],
    ...(byte.place === null ? [] : [words.rows.place(byte.place)]),
  ].join('; ');
  const mark = byte.fields[0] === undefined ? '' : ` byte--mark${byte.fields[0] % markCount}`;
  return (
    <button
      type="button"
      class={`byte byte--${byte.role}${mark}`}
      aria-pressed={isChosen}
      aria-label={words.rows.byte(row, at, hex, what)}
      title={what}
      onClick={onChoose}
    >
      {hex}
    </button>
  );
}

function Refused({ explanation }: { readonly explanation: Explanation }) {
  const { text } = useApp();
  const words = text.profiles;
  const { refused } = explanation;
  return (
    <div class="byte-refused">
      <h3>{words.refusedTitle}</h3>
      {refused.length === 0 ? <p class="hint">{words.refusedNone}</p> : null}
      <ul>
        {refused.slice(-shownRefused).map(({ packet, byte, fault }) => (
          <li key={`${packet} ${byte}`}>
            <strong>{words.refusedAt(packet + 1, byte)}</strong>: {words.refused[fault]}
          </li>
        ))}
      </ul>
      {refused.length > shownRefused ? <p>{words.refusedMore(refused.length - shownRefused)}</p> : null}
    </div>
  );
}

/** The last value of each channel that a packet has brought. */
function becomes(
  { samples, missing }: ExplainedPacket,
  gives: Readonly<Record<string, string>>,
  noReading: (name: string) => string,
): string {
  const last = new Map(samples.map(({ channel, value }) => [channel, value]));
  return [
    ...[...last].map(([channel, value]) => `${gives[channel]} ${Math.round(value * 100) / 100}`),
    ...missing.map((channel) => noReading(gives[channel] ?? channel)),
  ].join('; ');
}
