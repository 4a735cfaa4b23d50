// What a test says to a virtual sensor's process and hears back.

export type ToSensor =
  /** Ends the link with an HCI reason: 0x08 as if out of range, 0x13 as if the sensor hung up. */
  | { readonly type: 'drop'; readonly reason: number }
  | { readonly type: 'stopAdvertising' }
  | { readonly type: 'startAdvertising' }
  /** Keeps the link and stops sending. */
  | { readonly type: 'mute'; readonly muted: boolean }
  | { readonly type: 'battery'; readonly percent: number };

export type FromSensor =
  | { readonly type: 'advertising'; readonly address: string; readonly atNs: bigint }
  /** The controller has confirmed that it advertises no more. */
  | { readonly type: 'silent' }
  | { readonly type: 'accepted' }
  | { readonly type: 'disconnected' }
  | { readonly type: 'subscribed'; readonly characteristic: string }
  | { readonly type: 'unsubscribed'; readonly characteristic: string }
  | { readonly type: 'written'; readonly bytes: Uint8Array }
  /** A notification left the sensor; `number` is in its bytes too. Nanoseconds of CLOCK_MONOTONIC. */
  | {
      readonly type: 'sent';
      readonly characteristic: string;
      readonly number: number;
      readonly atNs: bigint;
    };

/** How a virtual sensor is made. */
export interface SensorPlan {
  readonly name: string;
  readonly kinds: readonly ('heartRate' | 'oximeter' | 'spotCheck' | 'profile')[];
  readonly everyMs: number;
  readonly batteryPercent: number;
  readonly controllerSocket: string;
}

/** The invented sensor of `fixtures/profiles/` as the rig plays it. */
export const profileUuids = {
  service: '7a5e0001c0de4d0a9b1f2f6e54696465',
  stream: '7a5e0002c0de4d0a9b1f2f6e54696465',
  command: '7a5e0003c0de4d0a9b1f2f6e54696465',
} as const;
