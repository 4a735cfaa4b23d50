// The radio port: what the hub asks of one Bluetooth adapter and what it hears back. Everything that is specific to
// a Bluetooth library lives behind it, in a process of its own; the link logic is on this side and knows only these
// messages. All of them survive structured cloning, because most implementations sit at the end of a pipe.

import type { Said } from '../../../shared/said.ts';
import type { ProcessMs } from '../../../shared/units.ts';
import type { PairingAnswer } from '../../../shared/views.ts';

/** Why a radio cannot be used. Each has its own advice, by system, in `shared/words/en-sensors.ts`. */
export type RadioProblem =
  /** The operating system has no Bluetooth support at all. */
  | 'noBluetooth'
  /** Supported, but no adapter is plugged in (or the serial port or socket cannot be reached). */
  | 'noAdapter'
  /** The process may not use the adapter. */
  | 'noPermission'
  /** An adapter is there and switched off. */
  | 'adapterOff'
  /** The adapter has no Bluetooth Low Energy. */
  | 'unsupported'
  /** The Bluetooth library is not installed or cannot be loaded. */
  | 'libraryMissing'
  /** The radio process ended or stopped answering. */
  | 'radioProcessFailed'
  /** A radio on another computer is not connected, or has just come back and begins anew. */
  | 'notReached'
  /** The system's own Bluetooth service, over which this radio works, does not run or does not answer. */
  | 'noDaemon';

/** What a radio does by itself, so that nobody promises more of its links. */
export interface RadioAbilities {
  /** Who chooses a link's interval and supervision timeout: the radio does, or the system and the sensor among them. */
  readonly linkParameters: 'radio' | 'system';
  /** Who keeps the keys of sensors that bond: nobody, or the system in its own files. */
  readonly bonds: 'nobody' | 'system';
}

/** What a sensor that pairs wants of a person. */
export type PairingQuestion =
  /** The six digits that the sensor shows, or that stand in its manual, are to be typed on the page. */
  | { readonly kind: 'typeCode' }
  /** The six digits are to be typed on the sensor. */
  | { readonly kind: 'showCode'; readonly code: number }
  /** The sensor shows six digits too, and a person says whether they are the same. */
  | { readonly kind: 'compareCode'; readonly code: number };

/** One characteristic of a discovered sensor. UUIDs in the short form of `uuid.ts`. */
export interface DiscoveredCharacteristic {
  readonly service: string;
  readonly characteristic: string;
  readonly properties: readonly string[];
}

/**
 * What may be asked of a radio. A `linkId` is chosen by the asker, names one attempt to reach one sensor, and is
 * never used twice: whatever arrives under an old one is stale by definition.
 */
export type RadioCommand =
  /** Begins, refreshes or ends scanning. `on` while scanning reports everything in the air anew. */
  | { readonly type: 'scan'; readonly on: boolean }
  /** Which advertisements are worth reporting. Empty: every connectable one. */
  | { readonly type: 'interest'; readonly interest: ScanInterest }
  | { readonly type: 'connect'; readonly linkId: string; readonly peripheralId: string }
  | { readonly type: 'cancelConnect'; readonly linkId: string }
  /** Lists the characteristics of the services named that the sensor has. */
  | { readonly type: 'discover'; readonly linkId: string; readonly services: readonly string[] }
  | {
      readonly type: 'subscribe';
      readonly linkId: string;
      readonly service: string;
      readonly characteristic: string;
    }
  | {
      readonly type: 'read';
      readonly linkId: string;
      readonly service: string;
      readonly characteristic: string;
    }
  | {
      readonly type: 'write';
      readonly linkId: string;
      readonly service: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
      readonly withResponse: boolean;
    }
  | { readonly type: 'disconnect'; readonly linkId: string }
  | { readonly type: 'answerPairing'; readonly requestId: string; readonly answer: PairingAnswer }
  /** Has the system throw a sensor's key away; its link ends. */
  | { readonly type: 'forgetBond'; readonly peripheralId: string };

export interface ScanInterest {
  readonly services: readonly string[];
  readonly namePrefixes: readonly string[];
  readonly peripheralIds: readonly string[];
}

/** What a radio reports. Stamps are on the clock of whoever created the radio. */
export type RadioEvent =
  /** Without abilities: links are the radio's own, and nobody keeps keys. */
  | { readonly type: 'on'; readonly abilities?: RadioAbilities }
  /** A radio elsewhere is not reached, or is again: its links go on meanwhile, and what they bring comes late. */
  | { readonly type: 'away' }
  | { readonly type: 'back' }
  | { readonly type: 'problem'; readonly problem: RadioProblem; readonly reason: Said | null }
  | {
      readonly type: 'advertisement';
      readonly peripheralId: string;
      readonly name: string | null;
      readonly services: readonly string[];
      readonly rssiDbm: number | null;
      readonly connectable: boolean;
      readonly atMs: ProcessMs;
    }
  | { readonly type: 'connected'; readonly linkId: string }
  /** The attempt is over and the adapter is free for the next one. Answers `cancelConnect` too. */
  | {
      readonly type: 'connectFailed';
      readonly linkId: string;
      readonly reason: Said;
      /** The adapter holds as many links as it can. */
      readonly isLimit?: boolean;
    }
  | {
      readonly type: 'discovered';
      readonly linkId: string;
      readonly characteristics: readonly DiscoveredCharacteristic[];
    }
  | { readonly type: 'subscribed'; readonly linkId: string; readonly characteristic: string }
  /** `bytes` is empty where the sensor refused. */
  | {
      readonly type: 'readDone';
      readonly linkId: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
      readonly atMs: ProcessMs;
    }
  | { readonly type: 'written'; readonly linkId: string; readonly characteristic: string }
  | {
      readonly type: 'notification';
      readonly linkId: string;
      /** Counts the notifications of this link from 1. */
      readonly sequence: number;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
      readonly atMs: ProcessMs;
    }
  | {
      readonly type: 'stepFailed';
      readonly linkId: string;
      readonly step: 'discover' | 'subscribe' | 'read' | 'write';
      readonly reason: Said;
      /** `locked`: it wants to be paired. `noAnswer`: nothing more can be asked on this link. */
      readonly refusal?: 'refused' | 'locked' | 'noAnswer' | 'missing';
    }
  | { readonly type: 'disconnected'; readonly linkId: string; readonly reason: Said }
  /** The sensor pairs and waits for a person; what is being asked of it waits meanwhile. */
  | {
      readonly type: 'pairingAsked';
      readonly linkId: string;
      readonly requestId: string;
      readonly question: PairingQuestion;
      readonly expiresInMs: number;
    }
  | { readonly type: 'pairingOver'; readonly linkId: string; readonly requestId: string }
  /** Whether the system keeps a key for this sensor. */
  | { readonly type: 'bond'; readonly peripheralId: string; readonly isKept: boolean }
  /** What was known under one address turned out to be the sensor of another, which it keeps. */
  | { readonly type: 'identified'; readonly peripheralId: string; readonly identity: string };

export interface RadioListener {
  event(event: RadioEvent): void;
}

/**
 * One adapter. `start` resolves once the radio is trying; whether it works comes as `on` or `problem`, again and
 * again as adapters come and go. After `problem` every link is gone without further word.
 */
export interface Radio {
  start(listener: RadioListener): void;
  send(command: RadioCommand): void;
  /** Throws everything away and begins anew: for an adapter that no longer does as it is told. */
  restart(reason: Said): void;
  /** Closes every link and lets go of the adapter. */
  stop(): Promise<void>;
  readonly health: RadioHealth;
}

export interface RadioHealth {
  /** Arrival stamps are known to within this; null before the clocks have been compared. */
  readonly clockUncertaintyMs: number | null;
  /** Times the radio has been started, the first included. */
  readonly starts: number;
  /** Exceptions inside the radio, mostly over bytes that its library could not parse. */
  readonly faults: number;
  readonly processId: number | null;
  /** Of a radio elsewhere: packets that it could not keep while it was not reached. */
  readonly packetsLost?: number;
}
