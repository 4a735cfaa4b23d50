// What a course asks of the hub over HTTP: who is in the session, whose a sensor is.

import type * as z from 'zod/mini';
import {
  answeringBodySchema,
  drillsBodySchema,
  type EmergencyCardRequest,
  type IncidentRequest,
  incidentsBodySchema,
  participantsBodySchema,
  type Statement,
} from '../../shared/course.ts';
import type { Result } from '../../src/result.ts';

/** How `HubHttp` asks: every body checked, every failure one sentence. */
export interface HubAsking {
  read<Schema extends z.ZodMiniType>(
    schema: Schema,
    path: string,
    method?: string,
    body?: unknown,
  ): Promise<Result<z.output<Schema>>>;
  change(method: string, path: string, body?: unknown): Promise<Result<unknown>>;
}

const inSession = (athleteId: string): string => `/api/session/athletes/${encodeURIComponent(athleteId)}`;

export class CourseHttp {
  readonly #hub: HubAsking;

  constructor(hub: HubAsking) {
    this.#hub = hub;
  }

  joinSession(athleteId: string) {
    return this.#hub.change('PUT', inSession(athleteId));
  }
  leaveSession(athleteId: string) {
    return this.#hub.change('DELETE', inSession(athleteId));
  }
  /** All at one moment. */
  assignSensors(assignments: readonly { readonly sensorId: string; readonly athleteId: string | null }[]) {
    return this.#hub.change('PUT', '/api/sensors', { assignments });
  }
  /** From now on it is listened for which sensor answers. */
  askWhose() {
    return this.#hub.read(answeringBodySchema, '/api/sensors/answering', 'POST');
  }
  participants() {
    return this.#hub.read(participantsBodySchema, '/api/participants');
  }
  addStatement(athleteId: string, statement: Pick<Statement, 'kind' | 'isGiven' | 'onDay'>) {
    return this.#hub.change(
      'POST',
      `/api/participants/${encodeURIComponent(athleteId)}/statements`,
      statement,
    );
  }
  writeEmergencyCard(card: EmergencyCardRequest) {
    return this.#hub.change('PUT', '/api/emergency-card', card);
  }
  drills() {
    return this.#hub.read(drillsBodySchema, '/api/drills');
  }
  startDrill() {
    return this.#hub.change('POST', '/api/drills');
  }
  endDrill() {
    return this.#hub.change('DELETE', '/api/drills/current');
  }
  acknowledgeDrill(name: string) {
    return this.#hub.change('POST', '/api/drills/current/acknowledgements', { name });
  }
  incidents() {
    return this.#hub.read(incidentsBodySchema, '/api/incidents');
  }
  writeIncident(incident: IncidentRequest) {
    return this.#hub.change('POST', '/api/incidents', incident);
  }
  acknowledgeIncident(incidentId: string, name: string) {
    return this.#hub.change('POST', `/api/incidents/${encodeURIComponent(incidentId)}/acknowledgements`, {
      name,
    });
  }
  sendWords(athleteId: string, text: string, insists: boolean) {
    return this.#hub.change('POST', `/api/athletes/${encodeURIComponent(athleteId)}/words`, {
      text,
      insists,
    });
  }
  wordsSeen(athleteId: string, wordsId: string) {
    return this.#hub.change(
      'POST',
      `/api/athletes/${encodeURIComponent(athleteId)}/words/${encodeURIComponent(wordsId)}/seen`,
    );
  }
  answering() {
    return this.#hub.read(answeringBodySchema, '/api/sensors/answering');
  }
}
