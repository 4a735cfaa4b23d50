// What a course keeps on paper elsewhere: who consented and said to be fit, the emergency card, drills and incidents; as
// documents beside the recordings. Statements and incidents are only ever added to.

import * as z from 'zod/mini';
import {
  type Drill,
  drillSchema,
  type EmergencyCard,
  type EmergencyCardRequest,
  emergencyCardSchema,
  type Incident,
  type IncidentRequest,
  incidentSchema,
  type Statement,
  statementSchema,
} from '../../../shared/course.ts';
import type { WallMs } from '../../../shared/units.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { DocumentKind } from '../../base/ports/documents.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import type { Refusal } from '../../base/refusal.ts';
import { refusals } from '../refusals.ts';

const cardId = 'card';
/** So that a page of one athlete stays readable; the oldest go. Our choice. */
const mostStatements = 40;
const mostAcknowledgements = 100;
const statementsSchema = z.object({ statements: z.array(statementSchema) });

export interface CoursePapersParts {
  readonly store: Pick<HubStore, 'saveDocument' | 'listDocuments' | 'readDocument'>;
  readonly clock: Pick<Clock, 'wallNowMs'>;
  readonly makeId: () => string;
}

export class CoursePapers {
  readonly #parts: CoursePapersParts;

  constructor(parts: CoursePapersParts) {
    this.#parts = parts;
  }

  /** In the order they were written. */
  statementsOf(athleteId: string): readonly Statement[] {
    const read = z.safeParse(
      statementsSchema,
      this.#parts.store.readDocument('participant', athleteId)?.body,
    );
    return read.success ? read.data.statements : [];
  }

  addStatement(athleteId: string, said: Pick<Statement, 'kind' | 'isGiven' | 'onDay' | 'by'>): void {
    const statement = { ...said, writtenWallAtMs: this.#now() };
    const statements = [...this.statementsOf(athleteId), statement].slice(-mostStatements);
    this.#save('participant', athleteId, athleteId, { statements });
  }

  get emergencyCard(): EmergencyCard | null {
    const read = z.safeParse(
      emergencyCardSchema,
      this.#parts.store.readDocument('emergencyCard', cardId)?.body,
    );
    return read.success ? read.data : null;
  }

  writeEmergencyCard(card: EmergencyCardRequest, by: string): void {
    this.#save('emergencyCard', cardId, null, { ...card, writtenWallAtMs: this.#now(), by });
  }

  /** The newest first. */
  drills(): readonly Drill[] {
    return this.#list('drill', drillSchema).sort((a, b) => b.startedWallAtMs - a.startedWallAtMs);
  }

  saveDrill(drill: Drill): void {
    this.#save('drill', drill.drillId, null, drill);
  }

  /** The newest first. */
  incidents(): readonly Incident[] {
    return this.#list('incident', incidentSchema).sort((a, b) => b.atWallMs - a.atWallMs);
  }

  writeIncident(request: IncidentRequest, device: string, sessionId: string | null): Incident {
    const incident: Incident = {
      ...request,
      incidentId: this.#parts.makeId(),
      writtenWallAtMs: this.#now(),
      device,
      sessionId,
      acknowledgements: [],
    };
    this.#saveIncident(incident);
    return incident;
  }

  /** A person has read it. Once for each name. */
  acknowledgeIncident(incidentId: string, name: string, device: string): Result<true, Refusal> {
    const incident = this.incidents().find((each) => each.incidentId === incidentId);
    if (incident === undefined) return failed<Refusal>(refusals.unknownIncident);
    const { acknowledgements } = incident;
    if (acknowledgements.length < mostAcknowledgements && !acknowledgements.some((one) => one.name === name))
      this.#saveIncident({
        ...incident,
        acknowledgements: [...acknowledgements, { name, device, atWallMs: this.#now() }],
      });
    return ok<true>(true);
  }

  #saveIncident(incident: Incident): void {
    this.#save('incident', incident.incidentId, incident.athleteId, incident);
  }

  #now(): WallMs {
    return this.#parts.clock.wallNowMs();
  }

  #save(kind: DocumentKind, documentId: string, athleteId: string | null, body: unknown): void {
    this.#parts.store.saveDocument({ kind, documentId, groupId: null, athleteId, body });
  }

  #list<Schema extends z.ZodMiniType>(kind: DocumentKind, schema: Schema): z.output<Schema>[] {
    return this.#parts.store.listDocuments(kind).flatMap(({ body }) => {
      const read = z.safeParse(schema, body);
      return read.success ? [read.data] : [];
    });
  }
}
