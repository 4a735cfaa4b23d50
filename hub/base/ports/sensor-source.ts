// What the hub needs of a sensor source, and the packets and states that one delivers.

import type { Said } from '../../../shared/said.ts';
import type { ProcessMs } from '../../../shared/units.ts';
import type { MarkView, PairingAnswer, SensorView } from '../../../shared/views.ts';

/** One notification, indication or read, exactly as it arrived. */
export interface SensorPacket {
  readonly sensorId: string;
  /** Characteristic UUID, lower case: four hex digits for a SIG number ("2a37"), else 32 without dashes. */
  readonly characteristic: string;
  readonly bytes: Uint8Array;
  /** Arrival on the process's monotonic clock, stamped where it arrived. */
  readonly receivedAtMs: ProcessMs;
  /** It was kept by a radio that could not be reached: recorded at its time, and of no meaning for what is so now. */
  readonly isLate?: boolean;
}

/** A Bluetooth adapter of this computer, or one elsewhere that has joined. */
export interface RadioStatus {
  readonly radioId: string;
  /** Of the joined device, for one elsewhere; null for an adapter of this computer. */
  readonly deviceId: string | null;
  /** What a person knows it by: the system's name of the adapter, or what it joined as. */
  readonly name: string;
  readonly state: 'on' | 'starting' | 'off' | 'away';
  /** Why it is off, and what to do. */
  readonly problem: Said | null;
  readonly sensorIds: readonly string[];
  /** Links that it can still take; null where it has never refused one, so that nobody knows. */
  readonly freePlaces: number | null;
  /** Arrival times are known to within this; null while its clock has not been compared. */
  readonly clockUncertaintyMs: number | null;
  /** Packets that it could not keep while it was not reached. */
  readonly packetsLost: number;
}

/** A sensor that is known under another address than it was assigned by. */
export interface SameSensor {
  /** As whom its address would else be listed. */
  readonly sensorId: string;
  readonly as: string;
}

export interface SensorListener {
  packet(packet: SensorPacket): void;
  /**
   * A sensor appeared or its link, battery or name changed; at `atMs`, or now when left out. A session's pipelines hear
   * of its kinds only together with a change of its link.
   */
  sensorChanged(sensor: SensorStatus, atMs?: ProcessMs): void;
  /** A sensor nobody was assigned to has not been heard for long and is forgotten. */
  sensorGone?(sensorId: string): void;
  /** The whole source's state, with what to do; empty when all is well. */
  sourceNotices(notices: readonly Said[]): void;
  /** A replay has come to its end. */
  finished?(): void;
  /** In a recording being replayed a sensor changed hands: it is this athlete's from then on, or nobody's. */
  worn?(change: { sensorId: string; athleteHint: string | null; receivedAtMs: ProcessMs }): void;
  /** Marks carried by a recording or CSV being replayed. */
  mark?(mark: {
    athleteHint: string;
    kind: MarkView['kind'];
    receivedAtMs: ProcessMs;
    text: string | null;
  }): void;
}

/** A sensor as its source knows it: `SensorView` less what the hub adds. */
export type SensorStatus = Pick<
  SensorView,
  | 'sensorId'
  | 'name'
  | 'kinds'
  | 'source'
  | 'link'
  | 'detail'
  | 'batteryPercent'
  | 'rssiDbm'
  | 'isBonded'
  | 'isHeard'
  | 'pairing'
  | 'via'
>;

/** Where packets come from: Bluetooth, the simulator, or a replay. */
export interface SensorSource {
  readonly source: SensorView['source'];
  /** Begins searching and delivering; resolves when it has begun, and rejects only for a fault of set-up. */
  start(listener: SensorListener): Promise<void>;
  /** Connects to these and lets all others go, where a source can choose. Called whenever an assignment changes. */
  setWantedSensors?(sensorIds: ReadonlySet<string>): void;
  /** What a person said to a sensor that pairs (`SensorStatus.pairing`). An answer that comes too late does nothing. */
  answerPairing?(sensorId: string, requestId: string, answer: PairingAnswer): void;
  /** Has the system throw away the key that it keeps for a sensor. */
  forgetBond?(sensorId: string): void;
  /**
   * Delivers everything due by `nowMs` before it returns, where a source makes its data by the clock. The hub calls
   * it before it tells the pipelines the time, so that a fast or delayed replay gives the same session as a slow one.
   */
  deliverUntil?(nowMs: ProcessMs): void;
  /** The radios that it has now, where it has any. */
  readonly radios?: readonly RadioStatus[];
  /** Addresses that are known to be those of other sensors. */
  readonly sameSensors?: readonly SameSensor[];
  /** What is listed as `sensorId` is the known sensor `as`, a person says; null takes it back. */
  setSameSensor?(sensorId: string, as: string | null): void;
  /** Closes every link; resolves when nothing more will be delivered. */
  stop(): Promise<void>;
  /**
   * A session has begun at `startedAtMs`. The simulator and a replay begin their data here, so that nothing of
   * it falls before the recording; a radio ignores it.
   */
  sessionStarted?(startedAtMs: ProcessMs): void;
  /** The session is over: the simulator and a replay fall silent. */
  sessionEnded?(): void;
}
