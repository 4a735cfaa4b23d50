// What the hub needs to place itself in time after a restart: a clock that no process and no person sets.

export interface BootClock {
  /** Names this start of the computer. */
  readonly bootId: string;
  /** Milliseconds since it, counting those asleep. */
  sinceBootMs(): number;
}
