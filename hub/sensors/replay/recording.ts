// What a replay plays: sensors, and packets, marks and link changes in order of time, wherever they come from.

import type { Said } from '../../../shared/said.ts';
import type { MarkView } from '../../../shared/views.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';

export type RecordingEvent =
  | {
      readonly type: 'packet';
      readonly atMs: number;
      readonly sensorId: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
      /** It came to the hub at `atMs`, so long after it was sent. */
      readonly lateByMs?: number;
    }
  | {
      readonly type: 'mark';
      readonly atMs: number;
      readonly athleteId: string;
      readonly kind: MarkView['kind'];
      readonly text: string | null;
    }
  | {
      readonly type: 'link';
      readonly atMs: number;
      readonly sensorId: string;
      readonly link: SensorStatus['link'];
      readonly detail: Said | null;
    }
  /** From now on this athlete wears the sensor, or nobody does. */
  | {
      readonly type: 'worn';
      readonly atMs: number;
      readonly sensorId: string;
      readonly athleteId: string | null;
    };

export interface Recording {
  readonly sensors: readonly Pick<SensorStatus, 'sensorId' | 'name' | 'kinds'>[];
  /** Times from 0. Read once for each play, in order of time. */
  events(): Iterable<RecordingEvent>;
  readonly durationMs: number;
  readonly simulated: boolean;
  /** By which its sensors are read; undefined where it keeps none, so that those of the data folder stand in. */
  readonly profiles?: readonly SensorProfile[] | undefined;
  /** What a person should know before watching it. */
  readonly notices: readonly Said[];
}
