// The bin: what was deleted is kept for a while and can come back. Recordings stay where they are and are hidden (the store's
// `binRecording`); plans, runs, entries and athletes are moved into documents of the kind `binned`: one that says what it is,
// and one a document that was taken away, each with its athlete, so that erasing an athlete empties the bin of them too.

import { type BinnedItem, type BinnedKind, binKeepsDays } from '../../shared/bin.ts';
import { said } from '../../shared/said.ts';
import { type WallMs, wallMs } from '../../shared/units.ts';
import type { Athlete } from '../../shared/views.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { HubLog } from '../base/log.ts';
import type { DocumentKind, StoredDocument } from '../base/ports/documents.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { BinnedRecording } from '../base/ports/stored-session.ts';
import type { Refusal } from '../base/refusal.ts';
import type { Hub } from '../live/hub.ts';
import { removeDetails } from './session-details.ts';

const binKeepsMs = binKeepsDays * 86_400_000;
/** How often it is looked for what has been kept long enough. */
const emptyEveryMs = 3_600_000;

const notInBin: Refusal = { code: 'notFound', said: said('refusal.notInBin') };

/** What a binned document says of what was taken away. Names are not in it: they go with their athlete. */
interface BinHead {
  readonly what: Exclude<BinnedKind, 'recording' | 'part'>;
  readonly title: string;
  readonly ofWallMs: number | null;
  readonly deletedWallAtMs: number;
  /** Of an athlete: as they were on the list, and the sensors remembered as theirs. */
  readonly athlete?: Athlete;
  readonly sensorIds?: readonly string[];
}

export interface BinParts {
  readonly hub: Hub;
  readonly store: HubStore;
  readonly makeId: () => string;
  readonly log: HubLog;
  /** A recording, or what it shows, has changed. */
  readonly forget: (sessionId: string) => void;
}

export class Bin {
  readonly #parts: BinParts;
  #stop: () => void = () => undefined;

  constructor(parts: BinParts) {
    this.#parts = parts;
  }

  /** Begins taking out what has been kept long enough, between sessions. */
  open(): void {
    const empty = (): void => {
      void this.#emptyOld().catch((error: unknown) => this.#parts.log.error('the bin', error));
    };
    empty();
    this.#stop = this.#parts.hub.pageClock.every(emptyEveryMs, empty);
  }

  close(): void {
    this.#stop();
  }

  /** A whole recording, or one athlete's part of one. Answers with the bin's id for it. */
  async putRecording(sessionId: string, athleteId: string | null): Promise<string> {
    const { store, forget } = this.#parts;
    await store.binRecording(sessionId, athleteId, this.#now);
    forget(sessionId);
    const binned = (await store.listBinned()).find(
      (each) =>
        each.session.sessionId === sessionId && (each.athleteId === athleteId || each.athleteId === null),
    );
    return idOfRecording(sessionId, binned?.athleteId ?? null);
  }

  /** The document with its group, taken from where it was. Answers with the bin's id for it, undefined where it is not there. */
  putDocument(
    kind: 'plan' | 'planRun' | 'training',
    documentId: string,
    told: { readonly title: string; readonly ofWallMs: number | null },
  ): string | undefined {
    const { store, makeId } = this.#parts;
    const document = store.readDocument(kind, documentId);
    if (document === undefined) return undefined;
    const grouped: readonly StoredDocument[] = kind === 'planRun' ? this.#groupOf(documentId) : [];
    const binId = makeId();
    const what = kind === 'training' ? 'entry' : kind;
    const head: BinHead = { what, ...told, deletedWallAtMs: this.#now };
    this.#saveHead(binId, document.athleteId, head);
    for (const [index, each] of [document, ...grouped].entries())
      store.saveDocument({
        kind: 'binned',
        documentId: `${binId}/${String(index).padStart(6, '0')}`,
        groupId: binId,
        athleteId: each.athleteId,
        body: each,
      });
    store.removeDocument(kind, documentId);
    return binId;
  }

  /** One who is taken off the list of athletes, with the sensors remembered as theirs. Recordings stay. */
  putAthlete(athlete: Athlete, sensorIds: readonly string[]): string {
    const binId = this.#parts.makeId();
    this.#saveHead(binId, athlete.athleteId, {
      what: 'athlete',
      title: '',
      ofWallMs: null,
      deletedWallAtMs: this.#now,
      athlete,
      sensorIds,
    });
    return binId;
  }

  /** What was deleted last first. */
  async list(): Promise<readonly BinnedItem[]> {
    const recordings = (await this.#parts.store.listBinned()).map(itemOfRecording);
    return [...recordings, ...this.#documentItems()].toSorted(
      (one, other) => other.deletedWallAtMs - one.deletedWallAtMs,
    );
  }

  async restore(binId: string): Promise<Result<true, Refusal>> {
    const { store, hub, forget } = this.#parts;
    const recording = await this.#recordingOf(binId);
    if (recording !== undefined) {
      const { sessionId } = recording.session;
      await store.unbinRecording(sessionId, recording.athleteId);
      forget(sessionId);
      return ok(true);
    }
    const head = this.#headOf(binId);
    if (head === undefined) return failed<Refusal>(notInBin);
    const { athlete, sensorIds = [] } = head;
    if (athlete !== undefined) {
      const restored = hub.restoreAthlete(athlete, sensorIds);
      if (!restored.ok) return restored;
    }
    for (const { body } of store.listDocuments('binned', binId)) store.saveDocument(body as StoredDocument);
    store.removeDocument('binned', binId);
    return ok(true);
  }

  /** For good. */
  async remove(binId: string): Promise<Result<true, Refusal>> {
    const { store, forget } = this.#parts;
    const recording = await this.#recordingOf(binId);
    if (recording === undefined)
      return store.removeDocument('binned', binId) ? ok(true) : failed<Refusal>(notInBin);
    const { sessionId } = recording.session;
    if (recording.athleteId === null) await store.deleteSession(sessionId);
    else await store.deletePart(sessionId, recording.athleteId);
    removeDetails(store, sessionId, recording.athleteId);
    forget(sessionId);
    return ok(true);
  }

  get #now(): WallMs {
    return this.#parts.hub.pageClock.wallNowMs();
  }

  #groupOf(documentId: string): StoredDocument[] {
    const { store } = this.#parts;
    const kinds: readonly DocumentKind[] = ['planRunAthlete', 'planRunEvent'];
    return kinds.flatMap((kind) => store.listDocuments(kind, documentId));
  }

  #saveHead(binId: string, athleteId: string | null, body: BinHead): void {
    this.#parts.store.saveDocument({ kind: 'binned', documentId: binId, groupId: null, athleteId, body });
  }

  #headOf(binId: string): BinHead | undefined {
    const document = this.#parts.store.readDocument('binned', binId);
    return document === undefined || document.groupId !== null ? undefined : (document.body as BinHead);
  }

  async #recordingOf(binId: string): Promise<BinnedRecording | undefined> {
    const binned = await this.#parts.store.listBinned();
    return binned.find(({ session, athleteId }) => idOfRecording(session.sessionId, athleteId) === binId);
  }

  #documentItems(): BinnedItem[] {
    const { store, hub } = this.#parts;
    const all = store.listDocuments('binned');
    const heads = all.filter(({ groupId }) => groupId === null);
    const names = new Map(hub.athletes.map(({ athleteId, name }) => [athleteId, name]));
    for (const { body } of heads) {
      const { athlete } = body as BinHead;
      if (athlete !== undefined) names.set(athlete.athleteId, athlete.name);
    }
    return heads.flatMap(({ documentId, athleteId, body }): BinnedItem[] => {
      const { what, title, ofWallMs, deletedWallAtMs } = body as BinHead;
      const inside = all.filter(({ groupId }) => groupId === documentId);
      const ids = new Set([athleteId, ...inside.map((each) => each.athleteId)].flatMap((id) => id ?? []));
      // A run of somebody who was erased meanwhile is nobody's.
      if (what === 'planRun' && ids.size === 0) return [];
      return [
        {
          binId: documentId,
          kind: what,
          title,
          ofWallMs: ofWallMs === null ? null : wallMs(ofWallMs),
          deletedWallAtMs: wallMs(deletedWallAtMs),
          keptUntilWallMs: wallMs(deletedWallAtMs + binKeepsMs),
          athletes: [...ids].map((id) => ({ athleteId: id, name: names.get(id) ?? '' })),
        },
      ];
    });
  }

  /** A recording under way goes before: what is deleted from the file holds its disk up. */
  async #emptyOld(): Promise<void> {
    const { hub, store } = this.#parts;
    const isOld = (deletedWallAtMs: number): boolean => deletedWallAtMs + binKeepsMs <= this.#now;
    for (const { session, athleteId, atWallMs } of await store.listBinned())
      if (isOld(atWallMs) && hub.session === null)
        await this.remove(idOfRecording(session.sessionId, athleteId));
    for (const { documentId, groupId, body } of store.listDocuments('binned'))
      if (groupId === null && isOld((body as BinHead).deletedWallAtMs))
        store.removeDocument('binned', documentId);
  }
}

/** Recordings are in the bin by their own ids. */
const idOfRecording = (sessionId: string, athleteId: string | null): string =>
  athleteId === null ? `whole:${sessionId}` : `part:${sessionId}:${athleteId}`;

const itemOfRecording = ({ session, athleteId, athletes, atWallMs }: BinnedRecording): BinnedItem => ({
  binId: idOfRecording(session.sessionId, athleteId),
  kind: athleteId === null ? 'recording' : 'part',
  title: session.title,
  ofWallMs: session.startedWallAtMs,
  deletedWallAtMs: atWallMs,
  keptUntilWallMs: wallMs(atWallMs + binKeepsMs),
  athletes: [...athletes],
});
