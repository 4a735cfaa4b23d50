// The numbers that the link logic runs on. Times in milliseconds. Where a number has no source it says so.

/** Common practice, no source, unless a line says otherwise. */
export const linkPolicy = {
  /** A sensor heard longer ago than this is not worth a connection attempt: sensors advertise at least about once a second. */
  freshAdvertisementMs: 2_000,
  /** A sensor that advertises accepts within a few of its advertising intervals (at most 1.3 s for common sensors). */
  connectTimeoutMs: 3_000,
  /** The same while other sensors are missed too and may be waiting their turn. */
  connectTimeoutCrowdedMs: 1_500,
  /** For the adapter to confirm that it gave an attempt up. Beyond it the adapter is stuck. */
  cancelTimeoutMs: 2_000,
  /** Advertising less often than this, a sensor is waited for by its own rhythm. */
  slowAdvertisingMs: 2_500,
  /** How long before its next advertisement an attempt on such a sensor begins. */
  attemptAheadMs: 700,
  /** Longer between two advertisements, or two readings, is an absence and not a rhythm. */
  longestAdvertisingGapMs: 12_000,
  longestSendingGapMs: 15_000,
  /** Forty services, one to an answer, over a slow link. Nobody waits for it but this sensor. */
  discoverTimeoutMs: 20_000,
  /** Longer than an answer and a pairing together (att-client.ts). */
  subscribeTimeoutMs: 12_000,
  writeTimeoutMs: 12_000,
  /** Longer than the one second at which heart rate and oximetry are notified, with room for a lost packet's repeat. */
  probeAfterSilenceMs: 1_500,
  /** With the above, silence is on the page within 3 s of the last packet, as the watchdog promises. */
  probeTimeoutMs: 900,
  /**
   * A link silent and unanswering this long is given up; until then a packet revives it without a reconnect. Longer than a second's
   * interval and the supervision timeout of 5.12 s together: at 5 s every fade of 4 s and more was ended by the hub.
   */
  dropAfterSilenceMs: 6_500,
  /** A sensor that answers but sends nothing (finger out) is left alone this long before its link is made anew. */
  renewSilentLinkAfterMs: 60_000,
  /** Reads of battery and device information, which nothing waits for. */
  choreTimeoutMs: 12_000,
  batteryReadEveryMs: 300_000,
  /** Longest for a controller to confirm a closed link: the supervision timeout (Core 5.3 Vol 6 Part B s4.5.2) plus room. */
  closeTimeoutMs: 10_000,
  /** Scanning is begun anew this often while a sensor is missed, past controllers that report each sensor once. */
  scanRefreshMs: 2_000,
  /** With every wanted sensor connected, scanning only looks in now and then: it takes air time from the links. */
  restScanOnMs: 2_000,
  restScanOffMs: 6_000,
  /** Waits after the first, second, ... failure in a row. The first retry is at once: most failures are chance. */
  retryDelaysMs: [0, 1_000, 2_000, 4_000, 8_000],
  /** After finding that a sensor offers nothing usable. */
  uselessRetryMs: 60_000,
  /** A locked sensor is tried again this often: a person may have unlocked it meanwhile. */
  lockedRetryMs: 30_000,
  /** After a person's time to answer: for the radio to say that it is over. */
  pairingOverdueMs: 20_000,
  /** A sensor that sends less often than this is told to be slow. */
  seldomMs: 2_500,
  /** An adapter that refused a link is asked again this often: another program may have let one go. */
  limitRetryMs: 30_000,
  /** How long a sensor that one radio hears is left to be heard by another that would suit it better. */
  otherRadiosMs: 500,
  /** What a link that a radio has already weighs against a better signal at it. Our choice: seven links are 42 dB. */
  linkWeighsDb: 6,
  /** Above this any signal is as good as another; common practice, no source. */
  goodSignalDbm: -65,
  /** Addresses of one sensor that are remembered: it may change them every quarter of an hour. */
  mostAddresses: 16,
  /** What arrived longer ago at a radio elsewhere is of the past: its silence has been told by then. */
  lateAfterMs: 3_000,
  /** A radio elsewhere that is not reached for so long is given up, with its links; it keeps to the same. */
  awayLimitMs: 600_000,
  /** Sensors nobody wants are forgotten after this silence, so that rotating addresses do not pile up. */
  forgetAfterMs: 60_000,
  /** Most unwanted sensors remembered at once; the longest unheard go first. */
  mostUnwanted: 64,
  /** Unheard this long, longer than a pause of scanning, a sensor counts as switched off or gone. */
  vanishedAfterMs: 9_000,
  /** A sensor that appeared this recently is pointed out, so that switching one on tells which it is. */
  justAppearedMs: 15_000,
  /** At this charge a notice asks for a change before the next session. */
  lowBatteryPercent: 20,
} as const;

export type LinkPolicy = {
  readonly [Key in keyof typeof linkPolicy]: (typeof linkPolicy)[Key] extends number
    ? number
    : readonly number[];
};
