// What a school's page asks over HTTP: who is known, who is one person, and erasing somebody everywhere.

import {
  asideCopiesBodySchema,
  schoolBelongingsBodySchema,
  schoolErasuresBodySchema,
  schoolMergePreviewBodySchema,
  schoolPersonsBodySchema,
} from '../../shared/school/pages.ts';
import type { HubAsking } from './course-http.ts';

export class SchoolHttp {
  readonly #hub: HubAsking;

  constructor(hub: HubAsking) {
    this.#hub = hub;
  }

  persons() {
    return this.#hub.read(schoolPersonsBodySchema, '/api/school/persons');
  }
  previewMerge(keptPersonId: string, takenPersonId: string) {
    const both = { keptPersonId, takenPersonId };
    return this.#hub.read(schoolMergePreviewBodySchema, '/api/school/merges/preview', 'POST', both);
  }
  merge(keptPersonId: string, takenPersonId: string) {
    return this.#hub.change('POST', '/api/school/merges', { keptPersonId, takenPersonId });
  }
  undoMerge(mergeId: string) {
    return this.#hub.change('DELETE', `/api/school/merges/${encodeURIComponent(mergeId)}`);
  }
  aside() {
    return this.#hub.read(asideCopiesBodySchema, '/api/school/aside');
  }
  erasures() {
    return this.#hub.read(schoolErasuresBodySchema, '/api/school/erasures');
  }
  /** What erasing this person takes away. */
  belongings(personId: string) {
    return this.#hub.read(schoolBelongingsBodySchema, '/api/school/erasures/preview', 'POST', { personId });
  }
  /** At every hub and in the archive, for good. */
  erase(whom: { readonly personId: string } | { readonly coach: string }) {
    return this.#hub.change('POST', '/api/school/erasures', whom);
  }
}

/** Where the packets of an earlier copy can be fetched. */
export const asideFilePath = (sessionId: string, copy: number): string =>
  `/api/school/aside/${encodeURIComponent(sessionId)}/${copy}`;

/** Where the list of what somebody of this name led can be fetched. */
export const coachExportPath = (name: string): string =>
  `/api/school/coaches/export?name=${encodeURIComponent(name)}`;

/** Where everything of a person can be fetched as one file. */
export const personExportPath = (personId: string): string =>
  `/api/school/persons/${encodeURIComponent(personId)}/export`;
