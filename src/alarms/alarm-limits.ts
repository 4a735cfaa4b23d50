// Every time and level the alarm engine uses, in one table, each with its source or the reason for our choice.
// Nothing here is read from a clock; all are compared with the times that events carry.

/** Times in ms, saturations in %, rates in /min. */
export const alarmLimits = {
  /**
   * How long readings must stay below the floor when they came there by a fall that is possible. Our choice, because
   * the delay from the reading that makes it so to the alarm must be at most 3 s, and one 1 Hz spike must not alarm.
   */
  breachPersistenceMs: 2_000,
  /**
   * The same for readings that are doubted: suspect, the first ones after a gap, or come there by a jump that blood
   * cannot make. As long as the 3 s allow: a doubted reading that lasts alarms like any other, and the doubt is said.
   */
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
   * In a hold, readings that come with saturation and pulse unchanged for so long: told, then high. The display of
   * a living person moves: of real people at rest and moving (noneeg) such stretches came 5 and 0.3 times an hour, of
   * ill people in bed (bidmc) 34 and 9 times. The first is the project's own rule, the second our choice. What is told
   * first is medium where something speaks against the display: the averaged reading beside it, a strap whose heart rate
   * lies `stillHeartRateBpm` from the pulse shown (our choice: beyond rounding and averaging of both), or a saturation that
   * is close to the floor. Otherwise it is low.
   */
  stillMs: 15_000,
  stillLongMs: 30_000,
  stillHeartRateBpm: 6,
  /** Beside an unchanged fast reading the averaged one has moved by so much. Our choice: beyond rounding of both. */
  leftBehindPercent: 3,
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
  /** How long an athlete who was asked has to answer before words of rescue. Our choice: to hear, to decide, to tap. */
  answerWithinMs: 10_000,
  /** So near above the floor saturation is low. Our choice: the reading is 10-35 s behind (reference 3.27). */
  nearFloorPercent: 2,
  /** Steeper than twice the steepest published fall (0.35 %/s, reference 2.29 and 3.11), over at least so long. Our choice. */
  fastFallPercentPerSecond: 0.7,
  fastFallMs: 4_000,
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

  /** A sensor that was silent for so long is no longer what decides, if another has read well all the while. Our choice. */
  supersededMs: 60_000,

  /**
   * An oximeter that fell silent or useless this far above the floor is told at low priority until `lostMs`, and then at
   * high; nearer to it, or with a forecast that alarms, at medium from `staleMs` on. At the steepest
   * published fall (0.35 %/s, reference 2.29 and 3.11) 10 s cost 3.5 points; the rest is for rounding. A link known to be
   * broken is high at once wherever saturation stands: it does not come back by itself within seconds.
   */
  closeToFloorPercent: 5,
  /** A gap this long is stale, this long is lost. Reference 4.14 (notifications every 1-4 s; design choice there). */
  staleMs: 5_000,
  lostMs: 10_000,
  /** Notifications come but carry nothing usable: medium after the first, high after the second (in a hold). As stale and lost. */
  unusableMs: 5_000,
  unusableLongMs: 10_000,
  /**
   * With an oximeter assigned and not one saturation read by this time of the session, the session itself is blind. Our
   * choice: a link is made and a finger found within half a minute; twice that is no longer a slow start.
   */
  neverReadMs: 60_000,
  /** Doubtful readings this long are told at low priority. Our choice. */
  suspectMs: 20_000,

  /** No living page or none that can sound, for this long. Our choice: a reload of the page takes about 2 s. */
  noOutputMs: 3_000,
  batteryLowPercent: 15,
  batteryEndingPercent: 5,

  /** An audio pause ends by itself after this; pressing again during a pause does not lengthen it. Our choice. */
  audioPauseMs: 60_000,
  /** The forecast alarm goes only when the whole range of the forecast, as it is shown in whole percent, lies above the floor again. */
  forecastClearPercent: 0.5,
} as const;
