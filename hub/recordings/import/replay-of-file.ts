// Any file that import reads, as a recording that the replay plays: its readings as the packets a sensor would have sent.

import { said } from '../../../shared/said.ts';
import { openCsvRecording } from '../../sensors/replay/csv-recording.ts';
import type { Recording, RecordingEvent } from '../../sensors/replay/recording.ts';
import { recordingOfSession } from '../../sensors/replay/stored-recording.ts';
import { packetsOfSamples } from './packets-of-samples.ts';
import { recordingOfFile, sessionOfFile } from './recording-of-file.ts';

const sensorIds = { strap: 'replay:strap', oximeter: 'replay:oximeter' } as const;
const kinds = { strap: 'heartRate', oximeter: 'oximeter' } as const;

/** Throws HubError `input.notFound` or `input.malformed` . */
export async function openFileRecording(path: string): Promise<Recording> {
  const session = sessionOfFile(path);
  if (session !== undefined) {
    const whole = recordingOfSession(session.stored, () => session.packets);
    return { ...whole, events: () => ofWhoeverReplays(whole.events()) };
  }
  const file = recordingOfFile(path);
  if (file.format === 'longCsv') return await openCsvRecording(path);
  const { packets, leftOutCount } = packetsOfSamples(file.samples);
  const events = [
    ...packets.map(
      ({ device, characteristic, atMs, bytes }): RecordingEvent => ({
        type: 'packet',
        atMs,
        sensorId: sensorIds[device],
        characteristic,
        bytes,
      }),
    ),
    ...file.marks.map((mark): RecordingEvent => ({ type: 'mark', athleteId: '', ...mark })),
  ].sort((a, b) => a.atMs - b.atMs);
  const prefix = file.simulated ? 'SIMULATED replay' : 'Replay';
  return {
    sensors: (['strap', 'oximeter'] as const)
      .filter((device) => packets.some((packet) => packet.device === device))
      .map((device) => ({
        sensorId: sensorIds[device],
        name: `${prefix} ${device}`,
        kinds: [kinds[device]],
      })),
    events: () => events,
    durationMs: file.durationMs,
    simulated: file.simulated,
    notices: [
      file.readAs,
      ...file.notices,
      ...(leftOutCount > 0 ? [said('import.notReplayed', { count: leftOutCount })] : []),
    ],
  };
}

/** A file's one athlete is nobody of this hub: marks and sensors are of whoever the replay is given to. */
function* ofWhoeverReplays(events: Iterable<RecordingEvent>): Generator<RecordingEvent> {
  for (const event of events) {
    if (event.type === 'mark') yield { ...event, athleteId: '' };
    else if (event.type !== 'worn' || event.athleteId === null) yield event;
  }
}
