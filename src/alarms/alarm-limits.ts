// Every time and level the alarm engine uses, in one table, each with its source or the reason for our choice.
// Nothing here is read from a clock; all are compared with the times that events carry.

/** Times in ms, saturations in %, rates in /min. */
export const alarmLimits = {
  /**
   * How long readings must stay below the floor when they came there by a fall that is possible. Our choice, because
   * the delay from the reading that makes it so to the alarm must be at most 3 s, and one 1 Hz spike must not alarm.
   */
  breachPersistenceMs: 2_000,
  /** The same for suspect readings and for the first ones after a gap: as long as the 3 s allow. */
  breachDoubtfulPersistenceMs: 2_750,
  /**
   * A fall is possible if it stays within `reachBasePercent + reachPercentPerSecond * dt` of the last believed
   * reading. Our choice: twice the steepest published fall (0.35 %/s with full lungs, reference 2.29 and 3.11) and
   * 2.5 points for noise and rounding. Blood cannot do more; a moved finger can.
   */
  reachBasePercent: 2.5,
  reachPercentPerSecond: 0.7,
  /** A fall is a jump against each believed reading of so long. Our choice: a movement begins within 2-3 s. */
  jumpWindowMs: 6_000,
  /**
   * Low readings that came by an impossible jump must last so long; longer when the pulse jumped too or the oximeter
   * itself doubts them. Our choice, because a movement shows in the pulse within 6 s and is over by 12 s (common
   * practice, no source), and blood does not jump. Meanwhile `readingsImplausible` stands after `jumpToldMs`, in a hold
   * medium and after `breachMovedMs` high, so that someone looks.
   */
  breachJumpMs: 6_000,
  breachMovedMs: 12_000,
  jumpToldMs: 3_000,
  /**
   * But near the floor doubt counts for the alarm: if the last believed reading, less this for noise and rounding (our
   * choice) and less what it would have fallen since at its pace of the last `trailMs` (our choice: a dozen readings
   * and more), lies below the floor, a low reading needs only `breachDoubtfulPersistenceMs` however it came.
   */
  nearFloorPercent: 1,
  /** The pace after a gap, when it is not known: the steepest published with full lungs (reference 2.29 and 3.11). */
  unknownFallPercentPerSecond: 0.35,
  trailMs: 20_000,
  /** After a jump to where the display then stands still, so long. Our choice: twice the slowest averaging and more. */
  breachFrozenMs: 30_000,
  /** Saturation and pulse both without the slightest change for so long: the display may have stood still. Our choice. */
  frozenMs: 10_000,
  /** A pulse this far from its slow mean jumped. Our choice: an averaged display changes less in 3 s but at a hold's ends. */
  movedPulseFraction: 0.035,
  /** Readings this far below the floor, after a gap and confirmed by a second one, alarm at once. Reference, design suggestion "floor - 5". */
  deepBelowFloorPercent: 5,
  /** A usable reading older than this is no evidence against a low one. Reference 4.14: notifications come every 1-4 s. */
  recentReadingMs: 5_000,
  /** Readings at or above the floor for this long end the breach. Our choice: longer than one motion spike. */
  breachEndMs: 3_000,
  /** Each further step of this size below the floor sounds again even if acknowledged. Our choice. */
  deepeningStepPercent: 5,

  /** Monitoring stays at its strictest this long after a hold: the finger still falls for 15-40 s (reference 3.27, 9.07). */
  vigilanceAfterHoldMs: 60_000,
  /** No sign of breathing this long after an abort alarm escalates. Our choice: about 5 s to react, about 10-15 s for the signals to show breathing (reference 3.09). */
  noBreathingMs: 20_000,
  /** Saturation should be back this long after a hold: 30-60 s is typical at a finger (reference 3.28, from memory). */
  recoveryMs: 60_000,
  /** ... and this is no longer asked after so long. Our choice. */
  recoveryWatchMs: 300_000,
  /** "Back" is at least this, or floor + 2, or 2 below the athlete's own resting reading, whichever is lowest sense. Our choice. */
  recoveredPercent: 92,
  recoveredAboveFloorPercent: 2,
  recoveredBelowRestPercent: 2,

  /**
   * Sudden fall of heart rate: 30 % within 10 s (reference, design suggestion "early syncope"; fainting after lung
   * packing had 38 +/- 4 /min, reference 9.05) and down to below 50 /min, or 40 % to anything. The second limit is
   * our choice, because the ordinary start of a hold can fall by 25-30 % (reference 3.02, 3.08).
   */
  suddenFallWindowMs: 10_000,
  suddenFallFraction: 0.3,
  suddenFallBelowBpm: 50,
  suddenFallLargeFraction: 0.4,
  /** The fall must show in readings this far apart, so that one missed beat does not alarm. Our choice. */
  suddenFallPersistenceMs: 1_500,
  /** The condition is over at this share of the rate before the fall. Our choice. */
  suddenFallRecoveredFraction: 0.85,
  /** Heart rate outside the athlete's limits must last this long. Our choice: several beats. */
  heartRateLimitPersistenceMs: 5_000,

  /** A gap this long is stale, this long is lost. Reference 4.14 (notifications every 1-4 s; design choice there). */
  staleMs: 5_000,
  lostMs: 10_000,
  /** Notifications come but carry nothing usable: medium after the first, high after the second (in a hold). As stale and lost. */
  unusableMs: 5_000,
  unusableLongMs: 10_000,
  /** Doubtful readings this long are told at low priority. Our choice. */
  suspectMs: 10_000,

  /** No living page or none that can sound, for this long. Our choice: a reload of the page takes about 2 s. */
  noOutputMs: 3_000,
  batteryLowPercent: 15,
  batteryEndingPercent: 5,

  /** An audio pause ends by itself after this; pressing again during a pause does not lengthen it. Our choice. */
  audioPauseMs: 60_000,
  /** The forecast alarm goes only when at least this many seconds are left again. Our choice: hysteresis. */
  forecastClearSeconds: 15,
  /** Without a stop advice in the forecast, the alarm comes when its cautious end leaves this many seconds. Our choice: time to react. */
  forecastReactionSeconds: 5,
} as const;
