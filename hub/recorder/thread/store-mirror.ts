// The small things of the store in memory: athletes, who wears which sensor, and documents. Read without a disk, so that
// starting a session or a plan never waits for one.

import type { Athlete } from '../../../shared/views.ts';
import { HubError, told } from '../../base/hub-error.ts';
import type { DocumentKind, StoredDocument } from '../../base/ports/documents.ts';
import type { OpenedStore } from './recorder-messages.ts';

// A record, so that a kind added to the type and not here does not compile.
export const documentKinds = Object.keys({
  plan: 0,
  planRun: 0,
  planRunAthlete: 0,
  planRunEvent: 0,
  training: 0,
  oxygenPrior: 0,
  participant: 0,
  emergencyCard: 0,
  drill: 0,
  incident: 0,
  binned: 0,
  sessionDetails: 0,
  sharing: 0,
} satisfies Record<DocumentKind, 0>) as DocumentKind[];

export class StoreMirror {
  readonly #athletes: Map<string, Athlete>;
  readonly #assignments: Map<string, string>;
  /** By kind, then by id, in the order first saved. */
  readonly #documents = new Map<DocumentKind, Map<string, StoredDocument>>();
  /** The same by kind and group: a run's events are few among all events. */
  readonly #groups = new Map<string, Map<string, StoredDocument>>();

  constructor({ athletes, assignments, documents }: OpenedStore) {
    this.#athletes = new Map(athletes.map((athlete) => [athlete.athleteId, athlete]));
    this.#assignments = new Map(assignments);
    for (const kind of documentKinds) this.#documents.set(kind, new Map());
    for (const document of documents) this.#put(document);
  }

  listAthletes(): readonly Athlete[] {
    return [...this.#athletes.values()];
  }

  saveAthlete(athlete: Athlete): void {
    this.#athletes.set(athlete.athleteId, asStored(athlete));
  }

  /** With who wears their sensors. */
  removeAthlete(athleteId: string): void {
    this.#athletes.delete(athleteId);
    for (const [sensorId, wearer] of this.#assignments)
      if (wearer === athleteId) this.#assignments.delete(sensorId);
  }

  /** Also every document with their id. */
  eraseAthlete(athleteId: string): void {
    this.removeAthlete(athleteId);
    for (const documents of this.#documents.values())
      for (const document of documents.values()) if (document.athleteId === athleteId) this.#take(document);
  }

  /** Throws `data.refused` for an athlete who is not there. */
  assignSensor(sensorId: string, athleteId: string | null): void {
    if (athleteId === null) {
      this.#assignments.delete(sensorId);
      return;
    }
    if (!this.#athletes.has(athleteId))
      throw new HubError('data.refused', told(`unknown athlete ${athleteId}`));
    this.#assignments.set(sensorId, athleteId);
  }

  sensorAssignments(): ReadonlyMap<string, string> {
    return new Map(this.#assignments);
  }

  saveDocument(document: StoredDocument): void {
    this.#put(asStored(document));
  }

  listDocuments(kind: DocumentKind, groupId?: string): readonly StoredDocument[] {
    return groupId === undefined
      ? [...this.#of(kind).values()]
      : [...(this.#groups.get(groupKey(kind, groupId))?.values() ?? [])];
  }

  readDocument(kind: DocumentKind, documentId: string): StoredDocument | undefined {
    return this.#of(kind).get(documentId);
  }

  removeDocument(kind: DocumentKind, documentId: string): boolean {
    const document = this.#of(kind).get(documentId);
    if (document === undefined) return false;
    this.#take(document);
    for (const each of documentKinds)
      for (const grouped of [...(this.#groups.get(groupKey(each, documentId))?.values() ?? [])])
        this.#take(grouped);
    return true;
  }

  #put(document: StoredDocument): void {
    const { kind, documentId, groupId } = document;
    const before = this.#of(kind).get(documentId);
    if (before !== undefined && before.groupId !== groupId) this.#ungroup(before);
    this.#of(kind).set(documentId, document);
    if (groupId === null) return;
    const key = groupKey(kind, groupId);
    const group = this.#groups.get(key);
    if (group === undefined) this.#groups.set(key, new Map([[documentId, document]]));
    else group.set(documentId, document);
  }

  #take(document: StoredDocument): void {
    this.#of(document.kind).delete(document.documentId);
    this.#ungroup(document);
  }

  #ungroup({ kind, documentId, groupId }: StoredDocument): void {
    if (groupId === null) return;
    const key = groupKey(kind, groupId);
    const group = this.#groups.get(key);
    group?.delete(documentId);
    if (group?.size === 0) this.#groups.delete(key);
  }

  #of(kind: DocumentKind): Map<string, StoredDocument> {
    const documents = this.#documents.get(kind);
    if (documents === undefined) throw new Error(`unknown kind ${kind}`);
    return documents;
  }
}

const groupKey = (kind: DocumentKind, groupId: string): string => `${kind} ${groupId}`;

/** As it would come back from the disk: by itself, and JSON. */
const asStored = <Value>(value: Value): Value => JSON.parse(JSON.stringify(value)) as Value;
