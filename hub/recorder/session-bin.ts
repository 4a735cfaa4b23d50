// Recordings in the bin: said in their heads, so that all else of them stays as it was until it is deleted or comes back.

import { said } from '../../shared/said.ts';
import type { WallMs } from '../../shared/units.ts';
import { HubError } from '../base/hub-error.ts';
import type { BinnedRecording } from '../base/ports/stored-session.ts';
import { binnedAthleteIds, isWhollyBinned } from './binned-parts.ts';
import { bodyOf, type SessionBody, type SessionRow, textOfBody, viewOf } from './rows.ts';
import type { SessionTables } from './session-tables.ts';
import type { Transactions } from './transactions.ts';

export class SessionBin {
  readonly #sessions: SessionTables;
  readonly #transactions: Transactions;

  constructor(sessions: SessionTables, transactions: Transactions) {
    this.#sessions = sessions;
    this.#transactions = transactions;
  }

  put(sessionId: string, athleteId: string | null, atWallMs: WallMs): void {
    const row = this.#sessions.existing(sessionId);
    const body = bodyOf(row);
    if (row.status === 'recording') throw new HubError('data.refused', said('data.sessionRecorded'));
    const hidden = binnedAthleteIds(body);
    const shown = body.athletes.filter((athlete) => !hidden.has(athlete.athleteId));
    const isThere =
      !isWhollyBinned(body) &&
      (athleteId === null || shown.some((athlete) => athlete.athleteId === athleteId));
    if (!isThere) throw new HubError('data.refused', said('data.noSuchSession', { sessionId }));
    const whole = athleteId === null || shown.length === 1;
    const binned = [...(body.binned ?? []), { athleteId: whole ? null : athleteId, atWallMs }];
    this.#save(row, { ...body, binned });
  }

  takeOut(sessionId: string, athleteId: string | null): void {
    const row = this.#sessions.existing(sessionId);
    const body = bodyOf(row);
    const binned = (body.binned ?? []).filter((each) => each.athleteId !== athleteId);
    if (binned.length === (body.binned ?? []).length)
      throw new HubError('data.refused', said('data.noSuchSession', { sessionId }));
    this.#save(row, { ...body, binned });
  }

  /** Those parts come first that were put there last. */
  list(nameOf: (athleteId: string) => string | undefined): readonly BinnedRecording[] {
    return this.#sessions
      .rows()
      .flatMap((row): BinnedRecording[] => {
        const { athletes, binned = [] } = bodyOf(row);
        const hidden = binnedAthleteIds({ binned });
        return binned.map(({ athleteId, atWallMs }) => ({
          session: viewOf(row, []),
          athleteId,
          athletes: athletes
            .filter((each) =>
              athleteId === null ? !hidden.has(each.athleteId) : each.athleteId === athleteId,
            )
            .map((each) => ({ athleteId: each.athleteId, name: nameOf(each.athleteId) ?? each.name })),
          atWallMs: atWallMs as WallMs,
        }));
      })
      .toSorted((one, other) => other.atWallMs - one.atWallMs);
  }

  #save(row: SessionRow, body: SessionBody): void {
    this.#transactions.write(() => this.#sessions.saveWithin({ ...row, body: textOfBody(body) }));
  }
}
