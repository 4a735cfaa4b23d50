// The hub's HTTP answers as values: every body is checked against the contract, every failure is one sentence.

import type * as z from 'zod/mini';
import { auditBodySchema } from '../../shared/audit.ts';
import { backupsBodySchema, lookedBodySchema, offeredBodySchema } from '../../shared/backups.ts';
import { binBodySchema, deletedBodySchema } from '../../shared/bin.ts';
import { computerChecksBodySchema } from '../../shared/computer-checks.ts';
import { besideBodySchema, historyBodySchema, holdWindowsBodySchema } from '../../shared/history.ts';
import {
  accessBodySchema,
  athleteOxygenBodySchema,
  athleteRecordingSchema,
  athletesBodySchema,
  belongingsBodySchema,
  type CorrectionRequest,
  devicesBodySchema,
  errorBodySchema,
  foundRecordingsBodySchema,
  hubCertificateSchema,
  type ImportPlan,
  importedBodySchema,
  importPreviewBodySchema,
  importProgressBodySchema,
  leadersBodySchema,
  newBackupBodySchema,
  newJoinCodeBodySchema,
  progressBodySchema,
  radiosBodySchema,
  recordingBodySchema,
  savedBodySchema,
  sensorsBodySchema,
  sessionsBodySchema,
  traceBodySchema,
} from '../../shared/http.ts';
import { labelledExtractSchema } from '../../shared/labelled-extract.ts';
import { type Plan, plansBodySchema, storedPlanSchema } from '../../shared/plan.ts';
import {
  type PlanRunEvent,
  type PlanRunOptions,
  planRunBodySchema,
  planRunsBodySchema,
} from '../../shared/plan-run.ts';
import { notSavedYetCode, type Said, said } from '../../shared/said.ts';
import type { Channel, DeviceRole } from '../../shared/schema-parts.ts';
import { schoolLinkBodySchema } from '../../shared/school/pages.ts';
import {
  aroundBodySchema,
  benchBodySchema,
  formerProfilesBodySchema,
  profilesBodySchema,
} from '../../shared/sensor-profiles.ts';
import {
  type SessionDetails,
  sessionDetailsRequestSchema,
  sharingSchema,
} from '../../shared/session-details.ts';
import { adviceBodySchema, type TrainingEntry, trainingBodySchema } from '../../shared/training-log.ts';
import { athleteSchema, type PairingAnswer, sessionViewSchema } from '../../shared/views.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import { type HttpChange, httpChangeOf } from '../state/unsaved-changes.ts';
import { CourseHttp, type HubAsking } from './course-http.ts';
import { SchoolHttp } from './school-http.ts';
import { readSettingAside } from './set-aside.ts';

/** What plots draw. */
const shownChannels: readonly Channel[] = ['spo2Percent', 'heartRateBpm', 'pulseRateBpm'];

export type Fetch = (path: string, init?: RequestInit) => Promise<Response>;

/** An id of the page's making, by which it asks how far it is; aborting ends it on the hub too. */
export interface ImportRequest {
  readonly importId: string;
  readonly signal: AbortSignal;
}

export interface HttpEars {
  /** Records in lists that could not be read and were left out. */
  readonly setAside?: (records: readonly string[]) => void;
  /** A change that stands, and so is a good result, but isn't on the hub's disk. */
  readonly unsaved?: (change: HttpChange) => void;
}

export class HubHttp {
  readonly course: CourseHttp;
  readonly school: SchoolHttp;
  readonly #fetch: Fetch;
  readonly #say: (said: Said) => string;
  readonly #hear: HttpEars;

  /** `say` words what the hub refuses; a failed result has the sentence. */
  constructor(fetch: Fetch, say: (said: Said) => string, hear: HttpEars = {}) {
    this.#hear = hear;
    const asking: HubAsking = {
      read: (...asked) => this.#read(...asked),
      change: (...asked) => this.#change(...asked),
    };
    this.course = new CourseHttp(asking);
    this.school = new SchoolHttp(asking);
    this.#fetch = fetch;
    this.#say = say;
  }

  athletes() {
    return this.#read(athletesBodySchema, '/api/athletes');
  }
  addAthlete(name: string) {
    return this.#change('POST', '/api/athletes', { name });
  }
  /** What their holds taught of how this athlete's saturation falls. */
  athleteOxygen(athleteId: string) {
    return this.#read(athleteOxygenBodySchema, `/api/athletes/${encodeURIComponent(athleteId)}/oxygen`);
  }
  /** What erasing this athlete would take away. */
  belongings(athleteId: string) {
    return this.#read(belongingsBodySchema, `/api/athletes/${encodeURIComponent(athleteId)}/belongings`);
  }
  /** With every recording of theirs, for good. */
  eraseAthlete(athleteId: string) {
    return this.#change('DELETE', `/api/athletes/${encodeURIComponent(athleteId)}?recordings=all`);
  }
  sensors() {
    return this.#read(sensorsBodySchema, '/api/sensors');
  }
  assignSensor(sensorId: string, athleteId: string | null) {
    return this.#change('PUT', `/api/sensors/${encodeURIComponent(sensorId)}/athlete`, { athleteId });
  }
  /** What a person says to a sensor that pairs. */
  answerPairing(sensorId: string, requestId: string, answer: PairingAnswer) {
    const path = `/api/sensors/${encodeURIComponent(sensorId)}/pairing`;
    return this.#change('POST', path, { requestId, answer });
  }
  /** Has the hub's computer throw away the key that it keeps for a sensor. */
  forgetBond(sensorId: string) {
    return this.#change('DELETE', `/api/sensors/${encodeURIComponent(sensorId)}/bond`);
  }
  /** Whether all that was changed before is on the hub's disk. */
  saved() {
    return this.#read(savedBodySchema, '/api/saved');
  }
  sessions() {
    return this.#read(sessionsBodySchema, '/api/sessions');
  }
  /** A page of the recordings that are looked for; `query` as web/state/recordings-query.ts makes it. */
  foundRecordings(query: string, signal: AbortSignal) {
    return this.#read(foundRecordingsBodySchema, `/api/recordings?${query}`, 'GET', undefined, signal);
  }
  /** At once; what has not been worked out yet says so, and `athleteRecording` has it. */
  recordingOutline(sessionId: string) {
    return this.#read(recordingBodySchema, `/api/sessions/${encodeURIComponent(sessionId)}?outline`);
  }
  /** With everything worked out, which can take seconds. Leave by `signal`, and the hub stops working on it. */
  athleteRecording(sessionId: string, athleteId: string, signal: AbortSignal) {
    return this.#read(
      athleteRecordingSchema,
      this.#athletePath(sessionId, athleteId),
      'GET',
      undefined,
      signal,
    );
  }
  /** How far `athleteRecording` has come. */
  recordingProgress(sessionId: string, athleteId: string) {
    return this.#read(progressBodySchema, `${this.#athletePath(sessionId, athleteId)}/progress`);
  }
  #athletePath(sessionId: string, athleteId: string): string {
    return `/api/sessions/${encodeURIComponent(sessionId)}/athletes/${encodeURIComponent(athleteId)}`;
  }
  trace(
    sessionId: string,
    athleteId: string,
    fromMs: number,
    toMs: number,
    points: number,
    signals: 'cleaned' | 'raw' = 'cleaned',
    channels: readonly Channel[] = shownChannels,
    signal?: AbortSignal,
  ) {
    const query = `fromMs=${Math.max(0, Math.floor(fromMs))}&toMs=${Math.ceil(toMs)}&points=${points}&signals=${signals}&channels=${channels.join()}`;
    return this.#read(
      traceBodySchema,
      `${this.#athletePath(sessionId, athleteId)}/trace?${query}`,
      'GET',
      undefined,
      signal,
    );
  }
  /** Answers with the athlete's recording as corrected. */
  correct(sessionId: string, athleteId: string, correction: CorrectionRequest) {
    return this.#read(athleteRecordingSchema, this.#corrections(sessionId, athleteId), 'PUT', correction);
  }
  /** Takes the last correction in force back. */
  undoCorrection(sessionId: string, athleteId: string) {
    return this.#read(athleteRecordingSchema, this.#corrections(sessionId, athleteId), 'DELETE');
  }
  /** Brings back what was taken back last. */
  redoCorrection(sessionId: string, athleteId: string) {
    return this.#read(athleteRecordingSchema, this.#corrections(sessionId, athleteId), 'POST');
  }
  #corrections(sessionId: string, athleteId: string): string {
    return `${this.#athletePath(sessionId, athleteId)}/corrections`;
  }
  holdWindows(sessionId: string, athleteId: string) {
    return this.#read(holdWindowsBodySchema, `${this.#athletePath(sessionId, athleteId)}/holds`);
  }
  /** What was noted of one athlete's session. */
  sessionDetails(sessionId: string, athleteId: string) {
    return this.#read(sessionDetailsRequestSchema, `${this.#athletePath(sessionId, athleteId)}/details`);
  }
  saveSessionDetails(sessionId: string, athleteId: string, details: SessionDetails) {
    return this.#read(
      sessionDetailsRequestSchema,
      `${this.#athletePath(sessionId, athleteId)}/details`,
      'PUT',
      { details },
    );
  }
  /** All that a recording has of one athlete becomes another's. */
  reassignPart(sessionId: string, athleteId: string, toAthleteId: string) {
    return this.#change('PUT', `${this.#athletePath(sessionId, athleteId)}/athlete`, {
      athleteId: toAthleteId,
    });
  }
  /** Whether they agreed to be shown beside others. */
  sharing(athleteId: string) {
    return this.#read(sharingSchema, `/api/athletes/${encodeURIComponent(athleteId)}/sharing`);
  }
  setSharing(athleteId: string, agreed: boolean) {
    return this.#read(sharingSchema, `/api/athletes/${encodeURIComponent(athleteId)}/sharing`, 'PUT', {
      agreed,
    });
  }
  history(athleteId: string) {
    return this.#read(historyBodySchema, `/api/athletes/${encodeURIComponent(athleteId)}/history`);
  }
  /** Refused while one of the two has not agreed. */
  beside(athleteId: string, otherAthleteId: string) {
    const [one, other] = [athleteId, otherAthleteId].map(encodeURIComponent);
    return this.#read(besideBodySchema, `/api/athletes/${one}/beside/${other}`);
  }
  /** Into the bin, as `deletePart`, `deletePlan`, `deletePlanRun`, `deleteTraining` and `removeAthlete`. */
  deleteSession(sessionId: string) {
    return this.#read(deletedBodySchema, `/api/sessions/${encodeURIComponent(sessionId)}`, 'DELETE');
  }
  /** What a recording has of one athlete. */
  deletePart(sessionId: string, athleteId: string) {
    return this.#read(deletedBodySchema, this.#athletePath(sessionId, athleteId), 'DELETE');
  }
  titleSession(sessionId: string, title: string) {
    return this.#read(sessionViewSchema, `/api/sessions/${encodeURIComponent(sessionId)}`, 'PUT', { title });
  }
  nameLeaders(sessionId: string, names: readonly string[]) {
    const path = `/api/sessions/${encodeURIComponent(sessionId)}/leaders`;
    return this.#read(sessionViewSchema, path, 'PUT', { names });
  }
  leaders() {
    return this.#read(leadersBodySchema, '/api/leaders');
  }
  renameAthlete(athleteId: string, name: string) {
    return this.#read(athleteSchema, `/api/athletes/${encodeURIComponent(athleteId)}`, 'PUT', { name });
  }
  /** Off the list; recordings stay. */
  removeAthlete(athleteId: string) {
    return this.#read(deletedBodySchema, `/api/athletes/${encodeURIComponent(athleteId)}`, 'DELETE');
  }
  bin() {
    return this.#read(binBodySchema, '/api/bin');
  }
  restoreFromBin(binId: string) {
    return this.#change('POST', `/api/bin/${encodeURIComponent(binId)}/restore`);
  }
  deleteForGood(binId: string) {
    return this.#change('DELETE', `/api/bin/${encodeURIComponent(binId)}`);
  }
  /** Trades a join code for this browser's cookie, which no script sees. */
  join(code: string, deviceName: string) {
    return this.#read(accessBodySchema, '/api/join', 'POST', { code, deviceName });
  }
  /** Trades the code of a link from the hub's terminal for this browser's cookie. */
  enterAsOwnPerson(code: string) {
    return this.#change('POST', '/api/own-person', { code });
  }
  devices() {
    return this.#read(devicesBodySchema, '/api/devices');
  }
  /** Who did what, newest first. */
  audit() {
    return this.#read(auditBodySchema, '/api/audit');
  }
  /** How this hub stands with its school. */
  schoolLink() {
    return this.#read(schoolLinkBodySchema, '/api/school-link');
  }
  readonly auditFilePath = '/api/audit/file';
  /** Looks at the computer under the hub, which takes some seconds. */
  checkComputer() {
    return this.#read(computerChecksBodySchema, '/api/computer/checks', 'POST', {});
  }
  /** What the hub says of the certificate that it shows. */
  hubCertificate() {
    return this.#read(hubCertificateSchema, '/api/hub-certificate');
  }
  /** Where the browser downloads its authority's certificate. */
  authorityFilePath(form: 'pem' | 'der' | 'mobileconfig'): string {
    return `/api/authority/${form}`;
  }
  /** Bluetooth adapters and radios elsewhere. */
  radios() {
    return this.#read(radiosBodySchema, '/api/radios');
  }
  /** What is listed as `sensorId` is the sensor `as`; null takes it back. */
  setSameSensor(sensorId: string, as: string | null) {
    return this.#change('PUT', `/api/sensors/${encodeURIComponent(sensorId)}/same`, { as });
  }
  removeDevice(deviceId: string) {
    return this.#change('DELETE', `/api/devices/${encodeURIComponent(deviceId)}`);
  }
  /** `rooms`: at a school, of a coach of some of them. */
  makeJoinCode(role: DeviceRole, athleteId: string | null, rooms?: readonly string[]) {
    const asked = { role, athleteId, ...(rooms !== undefined && { rooms }) };
    return this.#read(newJoinCodeBodySchema, '/api/join-codes', 'POST', asked);
  }
  withdrawJoinCode(codeId: string) {
    return this.#change('DELETE', `/api/join-codes/${encodeURIComponent(codeId)}`);
  }
  plans() {
    return this.#read(plansBodySchema, '/api/plans');
  }
  /** Saves under `planId`, or as a new plan. */
  async savePlan(plan: Plan, planId: string | null) {
    const answer =
      planId === null
        ? await this.#ask('POST', '/api/plans', { plan })
        : await this.#ask('PUT', `/api/plans/${encodeURIComponent(planId)}`, { plan });
    if (!answer.ok) return answer;
    const parsed = storedPlanSchema.safeParse(answer.value);
    return parsed.success ? ok(parsed.data) : failed(this.#say(said('page.unknownForm')));
  }
  deletePlan(planId: string) {
    return this.#read(deletedBodySchema, `/api/plans/${encodeURIComponent(planId)}`, 'DELETE');
  }
  /** Where the browser downloads a plan as a file. */
  planFilePath(planId: string): string {
    return `/api/plans/${encodeURIComponent(planId)}/file`;
  }
  planRuns() {
    return this.#read(planRunsBodySchema, '/api/plan-runs');
  }
  planRun(runId: string) {
    return this.#read(planRunBodySchema, `/api/plan-runs/${encodeURIComponent(runId)}`);
  }
  deletePlanRun(runId: string) {
    return this.#read(deletedBodySchema, `/api/plan-runs/${encodeURIComponent(runId)}`, 'DELETE');
  }
  startPlanRun(plan: Plan, options: PlanRunOptions, longestHoldMs: number | null) {
    return this.#change('POST', '/api/plan-runs', { plan, options, longestHoldMs });
  }
  tapPlanRun(event: PlanRunEvent) {
    return this.#change('POST', '/api/plan-runs/current/events', { event });
  }
  /** As if nobody had just ended it. */
  takeBackPlanRunEnd() {
    return this.#change('POST', '/api/plan-runs/current/take-back-end');
  }
  /** A cue as a spoken sound file in a language, or null where the hub cannot speak. */
  async spokenCue(kind: string, language: string): Promise<ArrayBuffer | null> {
    try {
      const response = await this.#fetch(
        `/api/spoken-cues/${encodeURIComponent(kind)}?language=${encodeURIComponent(language)}`,
      );
      return response.status === 200 ? await response.arrayBuffer() : null;
    } catch {
      return null;
    }
  }
  training(athleteId: string) {
    return this.#read(trainingBodySchema, `/api/athletes/${encodeURIComponent(athleteId)}/training`);
  }
  saveTraining(entry: TrainingEntry) {
    return this.#change(
      'PUT',
      `/api/athletes/${encodeURIComponent(entry.athleteId)}/training/${encodeURIComponent(entry.entryId)}`,
      { entry },
    );
  }
  deleteTraining(athleteId: string, entryId: string) {
    return this.#read(
      deletedBodySchema,
      `/api/athletes/${encodeURIComponent(athleteId)}/training/${encodeURIComponent(entryId)}`,
      'DELETE',
    );
  }
  advice(athleteId: string) {
    return this.#read(adviceBodySchema, `/api/athletes/${encodeURIComponent(athleteId)}/advice`);
  }
  /** Where the browser downloads one athlete's recording as a file. */
  filePath(
    sessionId: string,
    athleteId: string,
    format: 'session' | 'csv' | 'measures' | 'edf' | 'fhir' | 'parquet' | 'wfdb',
  ): string {
    return `/api/sessions/${encodeURIComponent(sessionId)}/${format}?athleteId=${encodeURIComponent(athleteId)}`;
  }
  /** One athlete's marked recording without names, as it would be given. */
  labelledExtract(sessionId: string, athleteId: string, signal: AbortSignal) {
    return this.#read(
      labelledExtractSchema,
      `/api/sessions/${encodeURIComponent(sessionId)}/extract?athleteId=${encodeURIComponent(athleteId)}`,
      'GET',
      undefined,
      signal,
    );
  }
  /** Where the browser downloads all recordings of the hub as one file. */
  /** Has the hub make a backup; answers with where the browser fetches it, once. */
  async makeBackup(): Promise<Result<string, string>> {
    const made = await this.#read(newBackupBodySchema, '/api/backup', 'POST', {});
    return made.ok ? ok(`/api/backup/${encodeURIComponent(made.value.backupId)}`) : made;
  }
  /** Those made by the clock. */
  backups() {
    return this.#read(backupsBodySchema, '/api/backups');
  }
  makeScheduledBackup() {
    return this.#read(backupsBodySchema, '/api/backups', 'POST', {});
  }
  /** Sends a backup to be looked at; nothing is changed by it. */
  offerBackup(file: File) {
    return this.#send(offeredBodySchema, '/api/restore', file);
  }
  lookAtBackup(restoreId: string, passphrase: string | null) {
    const path = `/api/restore/${encodeURIComponent(restoreId)}/look`;
    return this.#read(lookedBodySchema, path, 'POST', { passphrase });
  }
  /** The hub stops for it and starts again. */
  beginRestore(restoreId: string) {
    return this.#change('POST', `/api/restore/${encodeURIComponent(restoreId)}/begin`, {});
  }
  profiles() {
    return this.#read(profilesBodySchema, '/api/profiles');
  }
  formerProfiles(file: string) {
    return this.#read(formerProfilesBodySchema, `/api/profiles/${encodeURIComponent(file)}/former`);
  }
  saveProfile(file: string, text: string) {
    return this.#change('PUT', `/api/profiles/${encodeURIComponent(file)}`, { text });
  }
  removeProfile(file: string) {
    return this.#change('DELETE', `/api/profiles/${encodeURIComponent(file)}`);
  }
  /** What is in the air, best heard first; the hub goes on listening for a while. */
  lookAround() {
    return this.#read(aroundBodySchema, '/api/bench/around', 'POST', {});
  }
  examine(sensorId: string, profileText: string | null) {
    return this.#change('PUT', '/api/bench', { sensorId, profileText });
  }
  examined(after: number) {
    return this.#read(benchBodySchema, `/api/bench?after=${after}`);
  }
  endExamining() {
    return this.#change('DELETE', '/api/bench');
  }
  previewImport(file: File, options: ImportRequest & { readonly timeZone?: string | undefined }) {
    const query = new URLSearchParams({ fileName: file.name, importId: options.importId });
    if (options.timeZone !== undefined) query.set('timeZone', options.timeZone);
    return this.#send(
      importPreviewBodySchema,
      `/api/import/preview?${query.toString()}`,
      file,
      options.signal,
    );
  }
  importFile(file: File, plan: ImportPlan, { importId, signal }: ImportRequest) {
    const query = new URLSearchParams({ fileName: file.name, importId, plan: JSON.stringify(plan) });
    return this.#send(importedBodySchema, `/api/import?${query.toString()}`, file, signal);
  }
  importProgress(importId: string) {
    return this.#read(importProgressBodySchema, `/api/import/${encodeURIComponent(importId)}/progress`);
  }

  /** Posts a file's bytes as they are. */
  async #send<Schema extends z.ZodMiniType>(
    schema: Schema,
    path: string,
    file: File,
    signal?: AbortSignal,
  ): Promise<Result<z.output<Schema>>> {
    const answer = await this.#fetched(path, {
      method: 'POST',
      headers: { 'content-type': 'application/octet-stream' },
      body: file,
      ...(signal !== undefined && { signal }),
    });
    if (!answer.ok) return answer;
    const parsed = schema.safeParse(answer.value);
    if (!parsed.success) return failed(this.#say(said('page.unknownForm')));
    return ok(parsed.data);
  }

  async #read<Schema extends z.ZodMiniType>(
    schema: Schema,
    path: string,
    method = 'GET',
    body?: unknown,
    signal?: AbortSignal,
  ): Promise<Result<z.output<Schema>>> {
    const answer = await this.#ask(method, path, body, signal);
    if (!answer.ok) return answer;
    const read = readSettingAside(schema, answer.value);
    if (read === undefined) return failed(this.#say(said('page.unknownForm')));
    if (read.setAside.length > 0) this.#hear.setAside?.(read.setAside);
    return ok(read.value);
  }

  async #change(method: string, path: string, body?: unknown): Promise<Result<unknown>> {
    return this.#ask(method, path, body);
  }

  async #ask(method: string, path: string, body?: unknown, signal?: AbortSignal): Promise<Result<unknown>> {
    return this.#fetched(path, {
      method,
      ...(signal !== undefined && { signal }),
      ...(body === undefined
        ? {}
        : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
    });
  }

  async #fetched(path: string, init: RequestInit): Promise<Result<unknown>> {
    let response: Response;
    try {
      response = await this.#fetch(path, init);
    } catch {
      return failed(this.#say(said('page.hubSilent')));
    }
    const json: unknown = await response.json().catch(() => null);
    if (response.ok) return ok(json);
    const error = errorBodySchema.safeParse(json);
    if (error.success && error.data.said.code === notSavedYetCode) {
      this.#hear.unsaved?.(httpChangeOf(path));
      return ok(error.data.answer ?? null);
    }
    return failed(
      this.#say(error.success ? error.data.said : said('page.hubStatus', { status: response.status })),
    );
  }
}
