// What the link logic knows: radios, sensors and how far each link has come; and the words it takes and gives.

import type { Said } from '../../../shared/said.ts';
import type { ProcessMs } from '../../../shared/units.ts';
import type { PairingAnswer } from '../../../shared/views.ts';
import type { LinkPolicy } from './link-policy.ts';
import type {
  DiscoveredCharacteristic,
  PairingQuestion,
  RadioAbilities,
  RadioCommand,
  RadioEvent,
  RadioProblem,
} from './radio.ts';
import { type Pace, unknownPace } from './sensor-pace.ts';

export type SensorKind = 'heartRate' | 'oximeter' | 'breathing';

/** What the link logic needs to know of a sensor profile (a sensor that speaks a protocol of its own). */
export interface ProfileLink {
  /** Marks what its sensors send, where another profile reads the same characteristic. */
  readonly name: string;
  readonly measures: readonly SensorKind[];
  readonly matchServices: readonly string[];
  readonly matchNamePrefix: string | null;
  readonly service: string;
  readonly notify: string;
  /** Further characteristics of the service whose notifications are wanted. */
  readonly also?: readonly string[];
  /** Written in order once subscribed, to make the sensor begin. */
  readonly start: readonly LinkCommand[];
  /** Written before a link is closed on purpose. */
  readonly stop?: readonly LinkCommand[];
  /** Written again and again, or the sensor falls silent. */
  readonly keepAlive?: (LinkCommand & { readonly everyMs: number }) | null;
}

export interface LinkCommand {
  readonly characteristic: string;
  readonly bytes: Uint8Array;
  readonly withResponse: boolean;
}

export interface LinkConfig {
  readonly policy: LinkPolicy;
  readonly profiles: readonly ProfileLink[];
  /** Take every connectable sensor and every notifying characteristic: for capturing raw bytes. */
  readonly takeEverything: boolean;
  /** One sensor that a person looks at closely: everything of it is taken, and it is read by this profile on trial, if any. */
  readonly examined?: { readonly sensorId: string; readonly profile: ProfileLink | null } | null;
  /** Sensors that nothing is known of are kept too, so that a person can find theirs. */
  readonly looksAround?: boolean;
}

export type LinkPhase =
  /** Known and left alone. */
  | { readonly phase: 'idle' }
  /** Waiting to hear it advertise, not before `notBeforeMs`. */
  | {
      readonly phase: 'searching';
      readonly notBeforeMs: number;
      readonly failures: number;
      readonly lost: boolean;
      readonly reason: Said | null;
    }
  | { readonly phase: 'connecting'; readonly link: Link; readonly deadlineMs: number }
  | { readonly phase: 'discovering'; readonly link: Link; readonly deadlineMs: number }
  | {
      readonly phase: 'subscribing';
      readonly link: Link;
      readonly deadlineMs: number;
      readonly steps: readonly SetupStep[];
      readonly characteristics: readonly DiscoveredCharacteristic[];
      /** A stream has been subscribed to already. */
      readonly hasStream: boolean;
    }
  | {
      readonly phase: 'ready';
      readonly link: Link;
      readonly readySinceMs: number;
      readonly characteristics: readonly DiscoveredCharacteristic[];
      /** What is still to be asked, and what is being waited for. Nothing depends on it: readings come already. */
      readonly chores: readonly Chore[];
      readonly asking: { readonly chore: Chore; readonly deadlineMs: number; readonly probe: boolean } | null;
      /** A question was never answered, so that nothing more can be asked on this link. */
      readonly isDeaf: boolean;
      /** When it last answered a question. */
      readonly lastAnswerAtMs: number;
      readonly answering: boolean;
      readonly batteryReadAtMs: number;
      readonly keptAliveAtMs: number;
    }
  /** A disconnect is under way. */
  | {
      readonly phase: 'closing';
      readonly link: Link;
      readonly deadlineMs: number;
      readonly reason: Said | null;
      readonly lost: boolean;
      readonly retryAtMs: number;
      readonly failures: number;
    };

export interface Link {
  readonly linkId: string;
  readonly radioId: string;
  /** Failures in a row before this attempt. */
  readonly failures: number;
  /** It was connected before and has been missed since. */
  readonly lost: boolean;
}

export type SetupStep =
  | {
      readonly type: 'subscribe';
      readonly service: string;
      readonly characteristic: string;
    }
  | {
      readonly type: 'write';
      readonly service: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
      readonly withResponse: boolean;
    };

/** Something asked of a sensor that sends already. */
export type Chore =
  | SetupStep
  | { readonly type: 'discover'; readonly services: readonly string[] }
  | { readonly type: 'read'; readonly service: string; readonly characteristic: string };

/** What a sensor would not do, for the words that say so. */
export interface SensorTrouble {
  readonly characteristic: string;
  readonly refusal: 'refused' | 'locked' | 'noAnswer' | 'missing';
  readonly reason: Said;
}

/** A sensor that pairs waits for a person's answer. */
export interface PairingWait {
  readonly requestId: string;
  readonly question: PairingQuestion;
  readonly expiresAtMs: number;
}

/** What one radio has heard of a sensor that takes links. */
export interface Hearing {
  readonly radioId: string;
  /** When this radio began to hear it, since the last attempt or a long silence. */
  readonly sinceMs: number;
  readonly atMs: number;
  readonly rssiDbm: number | null;
}

export interface SensorRecord {
  readonly sensorId: string;
  readonly peripheralId: string;
  readonly name: string;
  readonly services: readonly string[];
  readonly kinds: readonly SensorKind[];
  readonly rssiDbm: number | null;
  /** When it was first heard, or heard again after a silence of `vanishedAfterMs`. */
  readonly appearedAtMs: number;
  readonly lastHeardAtMs: number;
  /** By whom it is heard, one entry a radio; advertisements from before the last attempt are used up. */
  readonly heard: readonly Hearing[];
  /** When it was last heard saying that it takes no link now. */
  readonly takesNoLinkAtMs: number;
  /** When the adapter last refused a link to it because it has as many as it can hold. */
  readonly linkLimitAtMs: number;
  /** How often it advertises. */
  readonly advertising: Pace;
  /** How often it sends readings on the present link. */
  readonly sending: Pace;
  /** It offers saturation one measurement at a time and not as a stream. */
  readonly onlySpotChecks: boolean;
  /**
   * It is being linked to under another address than it was known by, to see by its serial number whether it is the
   * one. Nothing is delivered until that is known: it might be somebody else's.
   */
  readonly trial: { readonly formerPeripheralId: string } | null;
  /** Addresses of sensors of the same name that turned out to be others. */
  readonly strangers: readonly string[];
  /** Readings that it would not send on the last link, most recent attempt. */
  readonly troubles: readonly SensorTrouble[];
  /** The system keeps a key for it. */
  readonly isBonded: boolean;
  readonly pairing: PairingWait | null;
  /** The radio of its last attempt can pair. */
  readonly canPair: boolean;
  readonly wanted: boolean;
  readonly phase: LinkPhase;
  /** Number and time of the last packet of the present link; 0 and negative infinity before the first. */
  readonly lastSequence: number;
  readonly lastPacketAtMs: number;
  readonly batteryPercent: number | null;
  readonly model: string | null;
  /** Of Device Information: the same wherever and under whichever address it is met. */
  readonly serialNumber: string | null;
  readonly manufacturer: string | null;
  readonly firmware: string | null;
  readonly counts: SensorCounts;
}

export interface SensorCounts {
  readonly packets: number;
  /** Times the link was lost after it had worked. */
  readonly losses: number;
  readonly failedAttempts: number;
  /** Packets dropped because they had been delivered before. */
  readonly duplicates: number;
  /** Packets dropped because later ones had been delivered, or because their link is of the past. */
  readonly outOfOrder: number;
  /** Packets that a link numbered and never delivered. */
  readonly missed: number;
}

export interface RadioRecord {
  readonly radioId: string;
  /** On another computer: what it brings may come late. */
  readonly isElsewhere: boolean;
  readonly on: boolean;
  readonly abilities: RadioAbilities;
  readonly problem: { readonly problem: RadioProblem; readonly reason: Said | null } | null;
  readonly scanning: boolean;
  /** When scanning last began anew, or ended. */
  readonly scanChangedAtMs: number;
  /** How many links it held when it refused one more, and when that was; null where it never has. */
  readonly limit: { readonly links: number; readonly atMs: number } | null;
  /** Since when a radio elsewhere has not been reached: its links may go on, and nothing of them is heard. */
  readonly awaySinceMs: number | null;
  readonly connecting: {
    readonly linkId: string;
    readonly sensorId: string;
    readonly deadlineMs: number;
    readonly cancelling: boolean;
  } | null;
}

export interface LinkState {
  readonly radios: ReadonlyMap<string, RadioRecord>;
  readonly sensors: ReadonlyMap<string, SensorRecord>;
  readonly wanted: ReadonlySet<string>;
  /** Addresses that a known sensor has been met under since, with its id. */
  readonly aliases: ReadonlyMap<string, string>;
  /** Peripherals that the system keeps a key for. */
  readonly bonds: ReadonlySet<string>;
  readonly linksMade: number;
  readonly stopping: boolean;
  /** Events that named no live link or sensor: late answers, mostly. Counted, never acted on. */
  readonly staleEvents: number;
}

export type LinkEvent =
  | { readonly type: 'radio'; readonly radioId: string; readonly atMs: ProcessMs; readonly event: RadioEvent }
  | { readonly type: 'wanted'; readonly atMs: ProcessMs; readonly sensorIds: ReadonlySet<string> }
  | { readonly type: 'tick'; readonly atMs: ProcessMs }
  /** An adapter was plugged in, or a radio elsewhere has joined; or it is gone for good, with its links. */
  | {
      readonly type: 'radioAdded';
      readonly radioId: string;
      readonly isElsewhere: boolean;
      readonly atMs: ProcessMs;
    }
  | { readonly type: 'radioRemoved'; readonly radioId: string; readonly atMs: ProcessMs }
  /** A person says that what is heard as `sensorId` is the known sensor `as`; null takes that back. */
  | {
      readonly type: 'same';
      readonly sensorId: string;
      readonly as: string | null;
      readonly atMs: ProcessMs;
    }
  | {
      readonly type: 'answerPairing';
      readonly atMs: ProcessMs;
      readonly sensorId: string;
      readonly requestId: string;
      readonly answer: PairingAnswer;
    }
  | { readonly type: 'forgetBond'; readonly atMs: ProcessMs; readonly sensorId: string }
  | { readonly type: 'stop'; readonly atMs: ProcessMs };

export type LinkEffect =
  | { readonly type: 'command'; readonly radioId: string; readonly command: RadioCommand }
  | { readonly type: 'restartRadio'; readonly radioId: string; readonly reason: Said }
  | {
      readonly type: 'packet';
      readonly sensorId: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
      readonly atMs: ProcessMs;
      /** It arrived at `atMs` at a radio that could not be reached, and so long ago that it tells nothing of now. */
      readonly isLate: boolean;
    };

const noCounts: SensorCounts = {
  packets: 0,
  losses: 0,
  failedAttempts: 0,
  duplicates: 0,
  outOfOrder: 0,
  missed: 0,
};

/** Of a radio that says nothing of them. */
export const ownAbilities: RadioAbilities = { linkParameters: 'radio', bonds: 'nobody' };

/** A sensor of an earlier session: wanted, and known by name before it is heard. */
export interface RememberedSensor {
  readonly sensorId: string;
  readonly name: string;
  readonly kinds: readonly SensorKind[];
  readonly serialNumber?: string | null;
  /** Addresses that it has been met under since, the newest last. */
  readonly addresses?: readonly string[];
}

/** The state before anything has happened, with the remembered sensors wanted. */
export function initialLinkState(
  radioIds: readonly string[],
  remembered: readonly RememberedSensor[],
): LinkState {
  return {
    radios: new Map(radioIds.map((radioId) => [radioId, newRadio(radioId)])),
    sensors: new Map(
      remembered.map(({ sensorId, name, kinds, serialNumber = null, addresses = [] }) => [
        sensorId,
        {
          ...unheardSensor(sensorId),
          ...(addresses.length > 0 && { peripheralId: addresses.at(-1)! }),
          name,
          kinds,
          serialNumber,
          wanted: true,
          phase: searching(0, 0, false, null),
        },
      ]),
    ),
    wanted: new Set(remembered.map(({ sensorId }) => sensorId)),
    aliases: new Map(
      remembered.flatMap(({ sensorId, addresses = [] }) => addresses.map((address) => [address, sensorId])),
    ),
    bonds: new Set(),
    linksMade: 0,
    stopping: false,
    staleEvents: 0,
  };
}

export const newRadio = (radioId: string, isElsewhere = false): RadioRecord => ({
  radioId,
  isElsewhere,
  on: false,
  abilities: ownAbilities,
  problem: null,
  scanning: false,
  scanChangedAtMs: 0,
  limit: null,
  awaySinceMs: null,
  connecting: null,
});

/** The id the rest of the hub knows a peripheral by. Ids of any origin are cut to what an id may hold. */
export const sensorIdOf = (peripheralId: string): string =>
  `bt:${peripheralId.replaceAll(/[^A-Za-z0-9._-]/g, '').slice(0, 60)}`;

/** True when no link is open and none is being made or closed. */
export const isQuiet = (state: LinkState): boolean =>
  [...state.radios.values()].every((radio) => radio.connecting === null) &&
  [...state.sensors.values()].every(
    (sensor) => sensor.phase.phase === 'idle' || sensor.phase.phase === 'searching',
  );

export const unheardSensor = (sensorId: string): SensorRecord => ({
  sensorId,
  peripheralId: sensorId.replace(/^bt:/, ''),
  name: 'Remembered sensor',
  services: [],
  kinds: [],
  rssiDbm: null,
  appearedAtMs: Number.NEGATIVE_INFINITY,
  lastHeardAtMs: Number.NEGATIVE_INFINITY,
  heard: [],
  takesNoLinkAtMs: Number.NEGATIVE_INFINITY,
  linkLimitAtMs: Number.NEGATIVE_INFINITY,
  advertising: unknownPace,
  sending: unknownPace,
  onlySpotChecks: false,
  trial: null,
  strangers: [],
  troubles: [],
  isBonded: false,
  pairing: null,
  canPair: false,
  wanted: false,
  phase: { phase: 'idle' },
  lastSequence: 0,
  lastPacketAtMs: Number.NEGATIVE_INFINITY,
  batteryPercent: null,
  model: null,
  serialNumber: null,
  manufacturer: null,
  firmware: null,
  counts: noCounts,
});

export const searching = (
  notBeforeMs: number,
  failures: number,
  lost: boolean,
  reason: Said | null,
): LinkPhase => ({ phase: 'searching', notBeforeMs, failures, lost, reason });
