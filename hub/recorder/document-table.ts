// Documents kept beside recordings (plans, runs, training entries, what holds taught), as a table.

import type { Database } from 'better-sqlite3';
import { type Said, said } from '../../shared/said.ts';
import type { DocumentKind, StoredDocument } from '../base/ports/documents.ts';
import { type DocumentRow, documentChecksum, documentOf } from './rows.ts';
import { prepare } from './statements.ts';
import type { Transactions } from './transactions.ts';

export class DocumentTable {
  readonly #transactions: Transactions;
  readonly #sql: ReturnType<typeof statementsOf>;

  constructor(database: Database, transactions: Transactions) {
    this.#transactions = transactions;
    this.#sql = statementsOf(database);
  }

  save(document: StoredDocument): void {
    const row = {
      kind: document.kind,
      document_id: document.documentId,
      group_id: document.groupId,
      athlete_id: document.athleteId,
      body: JSON.stringify(document.body),
    };
    this.#transactions.write(() => {
      this.#sql.saveDocument.run({ ...row, checksum: documentChecksum(row) });
    });
  }

  list(kind: DocumentKind, groupId?: string): readonly StoredDocument[] {
    const rows = this.#transactions.read(() =>
      groupId === undefined
        ? this.#sql.documents.all(kind)
        : this.#sql.documentsOfGroup.all({ kind, group: groupId }),
    );
    return rows.flatMap((row) => documentOf(row) ?? []);
  }

  read(kind: DocumentKind, documentId: string): StoredDocument | undefined {
    const row = this.#transactions.read(() => this.#sql.document.get({ kind, id: documentId }));
    return row === undefined ? undefined : documentOf(row);
  }

  remove(kind: DocumentKind, documentId: string): boolean {
    let removed = false;
    this.#transactions.write(() => {
      removed = this.#sql.removeDocument.run({ kind, id: documentId }).changes > 0;
      if (removed) this.#sql.removeGroup.run(documentId);
    });
    return removed;
  }

  /** In a transaction of the caller's. */
  removeOfWithin(athleteId: string): void {
    this.#sql.removeDocumentsOf.run(athleteId);
  }

  /** One notice when plans or training entries are damaged; recordings do not hang on them. */
  notices(): Said[] {
    const rows = this.#sql.allDocuments.all();
    const damagedCount = rows.filter((row) => row.checksum !== documentChecksum(row)).length;
    if (damagedCount === 0) return [];
    return [said('data.documentsDamaged', { count: damagedCount })];
  }
}

const documentColumns = 'kind, document_id, group_id, athlete_id, body, checksum';

const statementsOf = (database: Database) => ({
  allDocuments: prepare(database)<[], DocumentRow>(`SELECT ${documentColumns} FROM documents`),
  documents: prepare(database)<[DocumentKind], DocumentRow>(
    `SELECT ${documentColumns} FROM documents WHERE kind = ? ORDER BY document_no`,
  ),
  documentsOfGroup: prepare(database)<{ kind: DocumentKind; group: string }, DocumentRow>(
    `SELECT ${documentColumns} FROM documents WHERE kind = @kind AND group_id = @group ORDER BY document_no`,
  ),
  document: prepare(database)<{ kind: DocumentKind; id: string }, DocumentRow>(
    `SELECT ${documentColumns} FROM documents WHERE kind = @kind AND document_id = @id`,
  ),
  saveDocument: prepare(database)<DocumentRow>(
    `INSERT INTO documents (${documentColumns})
     VALUES (@kind, @document_id, @group_id, @athlete_id, @body, @checksum)
     ON CONFLICT (kind, document_id) DO UPDATE SET group_id = excluded.group_id,
       athlete_id = excluded.athlete_id, body = excluded.body, checksum = excluded.checksum`,
  ),
  removeDocument: prepare(database)<{ kind: DocumentKind; id: string }>(
    'DELETE FROM documents WHERE kind = @kind AND document_id = @id',
  ),
  removeGroup: prepare(database)<[string]>('DELETE FROM documents WHERE group_id = ?'),
  removeDocumentsOf: prepare(database)<[string]>('DELETE FROM documents WHERE athlete_id = ?'),
});
