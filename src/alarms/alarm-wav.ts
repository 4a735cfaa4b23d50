// One alarm burst as the bytes of a WAV file (16-bit mono PCM), made from the pattern: nothing recorded, no randomness.

import { burstDurationMs, type SoundPattern } from './signal-patterns.ts';

const sampleRateHz = 22_050;
const bytesPerSample = 2;
const headerBytes = 44;
/** Peak of the loudest moment, as a share of full scale. Our choice: loud without clipping. */
const peak = 0.9;

/** A burst as a complete WAV file; with `trailingMs` of silence after it, so that players can loop it. */
export function alarmWav(sound: SoundPattern, trailingMs = 0): Uint8Array {
  const sampleCount = Math.ceil(((burstDurationMs(sound) + trailingMs) / 1000) * sampleRateHz);
  const bytes = new Uint8Array(headerBytes + sampleCount * bytesPerSample);
  const view = new DataView(bytes.buffer);
  writeHeader(view, sampleCount);
  const loudest = sound.components.reduce((sum, { levelDb }) => sum + amplitudeOf(levelDb), 0);
  for (const startMs of sound.pulseStartsMs) {
    const first = Math.round((startMs / 1000) * sampleRateHz);
    const length = Math.round((sound.pulseDurationMs / 1000) * sampleRateHz);
    for (let index = 0; index < length && first + index < sampleCount; index++) {
      const atMs = (index / sampleRateHz) * 1000;
      let value = 0;
      for (const { multiple, levelDb } of sound.components) {
        const phase = 2 * Math.PI * sound.fundamentalHz * multiple * (index / sampleRateHz);
        value += amplitudeOf(levelDb) * Math.sin(phase);
      }
      // Rise and fall in the band of Table 4 (reference 6.09), so that no click adds other tones.
      const envelope = Math.min(1, atMs / sound.riseMs, (sound.pulseDurationMs - atMs) / sound.riseMs);
      const sample = Math.round(((peak * value) / loudest) * Math.max(0, envelope) * 32_767);
      view.setInt16(headerBytes + (first + index) * bytesPerSample, sample, true);
    }
  }
  return bytes;
}

function amplitudeOf(levelDb: number): number {
  return 10 ** (levelDb / 20);
}

/** RIFF header of PCM, 44 bytes (public format description, from memory). */
function writeHeader(view: DataView, sampleCount: number): void {
  const text = (at: number, word: string): void => {
    for (let index = 0; index < word.length; index++) view.setUint8(at + index, word.charCodeAt(index));
  };
  const dataBytes = sampleCount * bytesPerSample;
  text(0, 'RIFF');
  view.setUint32(4, 36 + dataBytes, true);
  text(8, 'WAVE');
  text(12, 'fmt ');
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, sampleRateHz, true);
  view.setUint32(28, sampleRateHz * bytesPerSample, true);
  view.setUint16(32, bytesPerSample, true);
  view.setUint16(34, 8 * bytesPerSample, true);
  text(36, 'data');
  view.setUint32(40, dataBytes, true);
}
