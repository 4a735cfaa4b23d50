// Who can be monitored: the list of athletes, their names and settings, in memory and in the store.

import type { Athlete, AthleteSettings } from '../../shared/views.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { DocumentKind } from '../base/ports/documents.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { Refusal } from '../base/refusal.ts';
import { refusals } from './refusals.ts';

/** Documents that belong to an athlete, the bin's among them. */
const kindsOfAthletes = [
  'planRunAthlete',
  'training',
  'oxygenPrior',
  'participant',
  'sessionDetails',
  'sharing',
  'binned',
] as const satisfies readonly DocumentKind[];

export class AthleteRegister {
  readonly #store: HubStore;
  readonly #storeFailed: (error: unknown) => void;
  readonly #athletes: Map<string, Athlete>;

  constructor(store: HubStore, storeFailed: (error: unknown) => void) {
    this.#store = store;
    this.#storeFailed = storeFailed;
    this.#athletes = new Map(store.listAthletes().map((athlete) => [athlete.athleteId, athlete]));
  }

  list(): Athlete[] {
    return [...this.#athletes.values()];
  }

  get(athleteId: string): Athlete | undefined {
    return this.#athletes.get(athleteId);
  }

  /** Those chosen, each once, in the order chosen. */
  choose(athleteIds: readonly string[]): Result<readonly Athlete[], Refusal> {
    const ids = [...new Set(athleteIds)];
    if (ids.length === 0) return failed<Refusal>(refusals.noAthletes);
    const chosen = ids.flatMap((id) => this.#athletes.get(id) ?? []);
    return chosen.length === ids.length ? ok(chosen) : failed<Refusal>(refusals.unknownAmongAthletes);
  }

  /** Adds or replaces. What could not be written is not taken over. */
  save(athlete: Athlete): Result<Athlete, Refusal> {
    try {
      this.#store.saveAthlete(athlete);
    } catch (error) {
      this.#storeFailed(error);
      return failed<Refusal>(refusals.changeNotSaved);
    }
    this.#athletes.set(athlete.athleteId, athlete);
    return ok(athlete);
  }

  rename(athleteId: string, name: string): Result<Athlete, Refusal> {
    const athlete = this.#athletes.get(athleteId);
    return athlete === undefined
      ? failed<Refusal>(refusals.unknownAthlete)
      : this.save({ ...athlete, name: name.trim() });
  }

  saveSettings(athlete: Athlete, settings: AthleteSettings): Result<Athlete, Refusal> {
    return this.save({ ...athlete, settings });
  }

  /** Off the list; recordings keep their own copy. */
  remove(athleteId: string): void {
    this.#store.removeAthlete(athleteId);
    this.#athletes.delete(athleteId);
  }

  /** The store's list has changed by itself. */
  reread(): void {
    this.#athletes.clear();
    for (const athlete of this.#store.listAthletes()) this.#athletes.set(athlete.athleteId, athlete);
  }

  /** With everything of theirs. */
  async erase(athleteId: string): Promise<void> {
    await this.#store.eraseAthlete(athleteId);
    this.#athletes.delete(athleteId);
  }

  /** Those on the list, those who were taken off it but stand in a recording, an entry or the bin, and who led a session. */
  async onRecord(): Promise<ReadonlySet<string>> {
    const sessions = [...(await this.#store.listSessions()), ...(await this.#store.listBinned())];
    const documents = kindsOfAthletes.flatMap((kind) => this.#store.listDocuments(kind));
    return new Set([
      ...this.#athletes.keys(),
      ...sessions.flatMap(({ session }) => session.athleteIds),
      ...sessions.flatMap(({ session }) => session.leaders.map(({ leaderId }) => leaderId)),
      ...documents.flatMap(({ athleteId }) => athleteId ?? []),
    ]);
  }
}
