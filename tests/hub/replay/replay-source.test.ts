import { describe, expect, it } from 'vitest';
import { scaledClock } from '../../../hub/base/scaled-clock.ts';
import { openCsvRecording, readCsvRecording } from '../../../hub/sensors/replay/csv-recording.ts';
import { ReplaySource } from '../../../hub/sensors/replay/replay-source.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { decodePacket } from '../../../src/gatt/decode-packet.ts';
import { readingToSamples } from '../../../src/gatt/readings-to-samples.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createHeard, sensorSourceContract } from '../../contract/sensor-source-contract.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { inWords } from '../../support/in-words.ts';

const fixture = (name: string): string =>
  new URL(`../../../fixtures/controlled-desaturation/${name}`, import.meta.url).pathname;

const header = 'time_s,channel,value\n';

const realExtract = await openCsvRecording(fixture('subject-1-oximeter-a.csv'));
sensorSourceContract('A replay', {
  open: (clock) => new ReplaySource({ clock, recording: realExtract }),
  playMs: 60_000,
});

/** Plays a recording to its end and decodes what came. */
async function play(text: string, scale = 1) {
  const clock = createFakeClock();
  const recording = await readCsvRecording('file.csv', [text]);
  const source = new ReplaySource({ clock: scaledClock(clock, scale), recording });
  const heard = createHeard();
  await source.start(heard);
  const zeroMs = clock.nowMs();
  source.sessionStarted(zeroMs);
  clock.advance(recording.durationMs / scale + 1_000);
  const samples: Sample[] = [];
  for (const { sensorId, characteristic, bytes, receivedAtMs } of heard.packets) {
    const decoded = decodePacket(characteristic, bytes);
    if (!decoded.ok) throw new Error(decoded.reason);
    samples.push(...readingToSamples(decoded.value, sensorId, monotonicMs(receivedAtMs - zeroMs)).samples);
  }
  return { heard, samples, zeroMs, recording, source };
}

describe('replay of a CSV', () => {
  it('brings values back through the bytes at their times, with marks, and says that it is finished once', async () => {
    const { heard, samples, zeroMs } = await play(
      `${header}0,mark,hold_start\n1,spo2_percent,97.4\n1,pulse_rate_bpm,61\n1.25,rr_interval_ms,1000\n2,heart_rate_bpm,62\n2.2,rr_interval_ms,950\n3,mark,contraction\n4,mark,hold_end\n`,
    );
    expect(samples.map(({ channel, atMs, value }) => [channel, atMs, value])).toEqual([
      ['spo2Percent', 1000, 97.4],
      ['pulseRateBpm', 1000, 61],
      ['rrIntervalMs', 1250, 1000],
      ['heartRateBpm', 1250, 60],
      ['heartRateBpm', 2000, 62],
      ['rrIntervalMs', 2200, 950.1953125],
      ['heartRateBpm', 2200, 62],
    ]);
    expect(heard.marks.map(({ kind, receivedAtMs }) => [kind, receivedAtMs - zeroMs])).toEqual([
      ['holdStart', 0],
      ['contraction', 3000],
      ['holdEnd', 4000],
    ]);
    expect(heard.finishedCount).toBe(1);
  });

  it('does not say finished when the session was ended before its end, however late the clock is', async () => {
    const clock = createFakeClock();
    const recording = await readCsvRecording('f', [`${header}1,spo2_percent,97\n2,spo2_percent,96\n`]);
    const source = new ReplaySource({ clock, recording });
    const heard = createHeard();
    await source.start({
      ...heard,
      packet: () => source.sessionEnded(),
      finished: () => {
        heard.finishedCount += 1;
      },
    });
    source.sessionStarted(clock.nowMs());
    clock.jump(10_000);
    clock.advance(10_000);
    expect(heard.finishedCount).toBe(0);
  });

  it('pairs a saturation with a pulse rate written a moment beside it, and never makes a reading go missing', async () => {
    const { samples } = await play(
      `${header}1,spo2_percent,97\n1.3,pulse_rate_bpm,61\n2,spo2_percent,96\n9,pulse_rate_bpm,70\n10.9,spo2_percent,95\n`,
    );
    expect(samples.map(({ channel, atMs, value }) => [channel, atMs, value])).toEqual([
      ['spo2Percent', 1000, 97],
      ['pulseRateBpm', 1000, 61],
      ['spo2Percent', 2000, 96],
      ['pulseRateBpm', 2000, 61],
      ['spo2Percent', 10_900, 95],
    ]);
  });

  it('moves a late beginning to 0, names disorder, an unplayed pleth and simulated data', async () => {
    const { recording, heard, samples } = await play(
      `# SIMULATED\n${header}3600,spo2_percent,97\n3601.5,pleth,3\n3601,spo2_percent,96\n`,
    );
    expect(samples.map(({ atMs }) => atMs)).toEqual([0, 1000]);
    expect(recording.simulated).toBe(true);
    expect(heard.statuses[0]!.name).toBe('SIMULATED replay oximeter');
    expect(inWords(...heard.notices[0]!)).toBe(
      '1 row was out of order by less than 2 s (the first in line 5) and put in order. The file begins at 3600 s; the replay begins there. The pleth wave of this file is not replayed.',
    );
  });

  it.each([
    [
      `${header}1,spo2_percent,abc\n`,
      'file.csv, line 2, column 16: spo2_percent must be a number, but "abc" was found.',
    ],
    [header, 'file.csv, there is nothing to replay: the file has a header and no rows.'],
    [
      '',
      'file.csv, line 1, column 1: the file has no header; its first line must be "time_s,channel,value".',
    ],
  ])('%j is refused in one sentence', async (text, message) => {
    await expect(readCsvRecording('file.csv', [text])).rejects.toMatchObject({
      code: 'input.malformed',
      message,
    });
  });

  it('a file that is not there is refused in one sentence', async () => {
    await expect(openCsvRecording('/no/such/file.csv')).rejects.toMatchObject({ code: 'input.notFound' });
  });
});

describe('replay of real oximetry', () => {
  it.each(['subject-1-oximeter-a.csv', 'subject-1-oximeter-b.csv', 'subject-2-oximeter-a.csv'])(
    '%s: every value of the file comes out of the decoders, in its second',
    async (name) => {
      const { readFileSync } = await import('node:fs');
      const text = readFileSync(fixture(name), 'utf8');
      const { samples, heard } = await play(text, 50);
      const expected = text
        .split('\n')
        .filter((line) => /^\d/.test(line))
        .map((line) => line.split(','))
        .filter(([, channel]) => channel === 'spo2_percent')
        .map(([timeS, , value]) => [Number(timeS) * 1000, Number(value)]);
      const got = samples
        .filter(({ channel }) => channel === 'spo2Percent')
        .map(({ atMs, value }) => [atMs, value]);
      expect(got).toEqual(expected);
      expect(heard.finishedCount).toBe(1);
      expect(samples.every(({ quality }) => quality === 'good')).toBe(true);
    },
  );

  it('the first reading below a floor of 88 % comes at second 85 from oximeter A and 86 from oximeter B', async () => {
    for (const [name, second] of [
      ['subject-1-oximeter-a.csv', 85],
      ['subject-1-oximeter-b.csv', 86],
    ] as const) {
      const events = [...(await openCsvRecording(fixture(name))).events()];
      const first = events.find((event) => {
        if (event.type !== 'packet' || event.characteristic !== '2a5f') return false;
        const decoded = decodePacket(event.characteristic, event.bytes);
        if (!decoded.ok || decoded.value.kind !== 'plxContinuous') return false;
        return Number(decoded.value.measurement.normal.spo2Percent) < 88;
      });
      expect(first?.atMs).toBe(second * 1000);
    }
  });
});
