// Things kept beside recordings as JSON: plans, runs of plans, training entries, what a course keeps, and what of them lies in the bin.

export type DocumentKind =
  | 'plan'
  | 'planRun'
  | 'planRunAthlete'
  | 'planRunEvent'
  | 'training'
  | 'oxygenPrior'
  | 'participant'
  | 'emergencyCard'
  | 'drill'
  | 'incident'
  /** What a person noted about one athlete's session (shared/session-details.ts). Its group is the session. */
  | 'sessionDetails'
  /** That an athlete agreed to be shown beside others. */
  | 'sharing'
  /** One that was deleted, or what groups such (recordings/bin.ts). */
  | 'binned';

/** Something kept beside recordings, as JSON. Erasing an athlete removes every document with their id. */
export interface StoredDocument {
  readonly kind: DocumentKind;
  readonly documentId: string;
  /** The document it belongs to, or null. */
  readonly groupId: string | null;
  readonly athleteId: string | null;
  readonly body: unknown;
}

export interface Documents {
  /** Plans, runs of plans and training entries: replaces the one of the same kind and id, and keeps its place. */
  saveDocument(document: StoredDocument): void;
  /** In the order they were first saved; with `groupId`, only those of the group. Damaged ones are left out. */
  listDocuments(kind: DocumentKind, groupId?: string): readonly StoredDocument[];
  readDocument(kind: DocumentKind, documentId: string): StoredDocument | undefined;
  /** Also with everything whose `groupId` is this document's id. Answers whether it was there. */
  removeDocument(kind: DocumentKind, documentId: string): boolean;
}
