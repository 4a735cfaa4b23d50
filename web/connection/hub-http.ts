// The hub's HTTP answers as values: every body is checked against the contract, every failure is one sentence.

import type * as z from 'zod/mini';
import {
  accessBodySchema,
  athletesBodySchema,
  devicesBodySchema,
  errorBodySchema,
  newJoinCodeBodySchema,
  recordingBodySchema,
  sensorsBodySchema,
  sessionsBodySchema,
  traceBodySchema,
} from '../../shared/http.ts';
import type { Role } from '../../shared/schema-parts.ts';
import type { AthleteSettings } from '../../shared/views.ts';
import { failed, ok, type Result } from '../../src/result.ts';

type Fetch = (path: string, init?: RequestInit) => Promise<Response>;

export class HubHttp {
  readonly #fetch: Fetch;

  constructor(fetch: Fetch) {
    this.#fetch = fetch;
  }

  athletes() {
    return this.#read(athletesBodySchema, '/api/athletes');
  }
  addAthlete(name: string) {
    return this.#change('POST', '/api/athletes', { name });
  }
  changeAthlete(athleteId: string, name: string, settings: AthleteSettings) {
    return this.#change('PUT', `/api/athletes/${encodeURIComponent(athleteId)}`, { name, settings });
  }
  sensors() {
    return this.#read(sensorsBodySchema, '/api/sensors');
  }
  assignSensor(sensorId: string, athleteId: string | null) {
    return this.#change('PUT', `/api/sensors/${encodeURIComponent(sensorId)}/athlete`, { athleteId });
  }
  sessions() {
    return this.#read(sessionsBodySchema, '/api/sessions');
  }
  recording(sessionId: string) {
    return this.#read(recordingBodySchema, `/api/sessions/${encodeURIComponent(sessionId)}`);
  }
  trace(sessionId: string, athleteId: string, fromMs: number, toMs: number, points: number) {
    const query = `fromMs=${Math.max(0, Math.floor(fromMs))}&toMs=${Math.ceil(toMs)}&points=${points}`;
    return this.#read(
      traceBodySchema,
      `/api/sessions/${encodeURIComponent(sessionId)}/athletes/${encodeURIComponent(athleteId)}/trace?${query}`,
    );
  }
  deleteSession(sessionId: string) {
    return this.#change('DELETE', `/api/sessions/${encodeURIComponent(sessionId)}`);
  }
  /** Trades a join code for this browser's cookie, which no script sees. */
  join(code: string, deviceName: string) {
    return this.#read(accessBodySchema, '/api/join', 'POST', { code, deviceName });
  }
  devices() {
    return this.#read(devicesBodySchema, '/api/devices');
  }
  removeDevice(deviceId: string) {
    return this.#change('DELETE', `/api/devices/${encodeURIComponent(deviceId)}`);
  }
  makeJoinCode(role: Role, athleteId: string | null) {
    return this.#read(newJoinCodeBodySchema, '/api/join-codes', 'POST', { role, athleteId });
  }
  withdrawJoinCode(codeId: string) {
    return this.#change('DELETE', `/api/join-codes/${encodeURIComponent(codeId)}`);
  }
  /** Where the browser downloads a recording as CSV. */
  csvPath(sessionId: string): string {
    return `/api/sessions/${encodeURIComponent(sessionId)}/csv`;
  }

  async #read<Schema extends z.ZodMiniType>(
    schema: Schema,
    path: string,
    method = 'GET',
    body?: unknown,
  ): Promise<Result<z.output<Schema>>> {
    const answer = await this.#ask(method, path, body);
    if (!answer.ok) return answer;
    const parsed = schema.safeParse(answer.value);
    if (!parsed.success) return failed('the hub answered in a form this page does not know');
    return ok(parsed.data as z.output<Schema>);
  }

  async #change(method: string, path: string, body?: unknown): Promise<Result<unknown>> {
    return this.#ask(method, path, body);
  }

  async #ask(method: string, path: string, body?: unknown): Promise<Result<unknown>> {
    let response: Response;
    try {
      response = await this.#fetch(path, {
        method,
        ...(body === undefined
          ? {}
          : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
      });
    } catch {
      return failed('the hub does not answer');
    }
    const json: unknown = await response.json().catch(() => null);
    if (response.ok) return ok(json);
    const error = errorBodySchema.safeParse(json);
    return failed(error.success ? error.data.message : `the hub answered ${response.status}`);
  }
}
