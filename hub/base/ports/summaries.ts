// Keeping what was worked out from ended sessions, so that it need not be again.

export interface Summaries {
  /**
   * Keeps what was worked out from an ended session for one athlete, so that it need not be again. `madeBy` names the
   * rules it was made by. Goes with the session and the athlete, and with any correction added for them.
   */
  saveSummary(sessionId: string, athleteId: string, madeBy: string, body: unknown): void;
  /** By session, of one athlete, only those made by these rules. Damaged ones are left out. */
  listSummaries(athleteId: string, madeBy: string): ReadonlyMap<string, unknown>;
  /** By session, of one athlete, those made by any other rules: better than nothing until they are made anew. */
  listOtherSummaries(athleteId: string, madeBy: string): ReadonlyMap<string, unknown>;
}
