// Plan runs in the store: a head, one document an athlete so that erasing an athlete takes their part of the run along,
// and one an event. What cannot be read any more, or has no athlete left, is as not there.

import {
  type PlanRunEvent,
  planRunEventSchema,
  type StoredPlanRun,
  storedPlanRunSchema,
} from '../../shared/plan-run.ts';
import type { HubLog } from '../base/log.ts';
import type { Documents } from '../base/ports/documents.ts';

export type RunHead = Omit<StoredPlanRun, 'events'>;

/** A run with the last time that it is known to have been alive. */
export interface KeptRun {
  readonly head: RunHead;
  /** In run time. */
  readonly aliveAtMs: number;
}

const eventId = (runId: string, index: number): string => `${runId}/${String(index).padStart(6, '0')}`;

export class PlanRunArchive {
  readonly #store: Documents;
  readonly #log: HubLog;
  readonly #read = new Map<
    string,
    { readonly parts: readonly unknown[]; readonly kept: KeptRun | undefined }
  >();

  constructor(store: Documents, log: HubLog) {
    this.#store = store;
    this.#log = log;
  }

  saveHead(head: RunHead, aliveAtMs: number): void {
    const { options, ...rest } = head;
    const { athletes: _athletes, ...shared } = options;
    const body = { ...rest, options: shared, aliveAtMs };
    this.#write(() =>
      this.#store.saveDocument({
        kind: 'planRun',
        documentId: head.runId,
        groupId: null,
        athleteId: null,
        body,
      }),
    );
  }

  saveAthletes({ runId, options }: RunHead): void {
    for (const athlete of options.athletes)
      this.#write(() =>
        this.#store.saveDocument({
          kind: 'planRunAthlete',
          documentId: `${runId}/${athlete.athleteId}`,
          groupId: runId,
          athleteId: athlete.athleteId,
          body: athlete,
        }),
      );
  }

  removeEvent(runId: string, index: number): void {
    this.#write(() => this.#store.removeDocument('planRunEvent', eventId(runId, index)));
  }

  saveEvent(runId: string, index: number, event: PlanRunEvent): void {
    this.#write(() =>
      this.#store.saveDocument({
        kind: 'planRunEvent',
        documentId: eventId(runId, index),
        groupId: runId,
        athleteId: 'athleteId' in event ? event.athleteId : null,
        body: event,
      }),
    );
  }

  /** In the order they were started. */
  list(): KeptRun[] {
    return this.#store
      .listDocuments('planRun')
      .flatMap(({ body, documentId }) => this.#headOf(body, documentId) ?? []);
  }

  read(runId: string): KeptRun | undefined {
    const document = this.#store.readDocument('planRun', runId);
    return document === undefined ? undefined : this.#headOf(document.body, runId);
  }

  eventsOf(runId: string): PlanRunEvent[] {
    return this.#store.listDocuments('planRunEvent', runId).flatMap(({ body }) => {
      const parsed = planRunEventSchema.safeParse(body);
      return parsed.success ? [parsed.data] : [];
    });
  }

  /** Read once as long as the store has the same documents: lists are asked for often, and runs become many. */
  #headOf(body: unknown, runId: string): KeptRun | undefined {
    const parts = [body, ...this.#store.listDocuments('planRunAthlete', runId).map((each) => each.body)];
    const known = this.#read.get(runId);
    if (known?.parts.length === parts.length && known.parts.every((part, index) => part === parts[index]))
      return known.kept;
    const kept = this.#parsed(parts[0], parts.slice(1));
    this.#read.set(runId, { parts, kept });
    return kept;
  }

  #parsed(body: unknown, athletes: readonly unknown[]): KeptRun | undefined {
    if (typeof body !== 'object' || body === null || athletes.length === 0) return undefined;
    const { options, aliveAtMs, ...rest } = body as {
      readonly options?: object;
      readonly aliveAtMs?: unknown;
    };
    const parsed = storedPlanRunSchema.safeParse({ ...rest, options: { ...options, athletes }, events: [] });
    if (!parsed.success) return undefined;
    const { events: _events, ...head } = parsed.data;
    return { head, aliveAtMs: typeof aliveAtMs === 'number' ? aliveAtMs : 0 };
  }

  /** The run goes on in memory: a full disk must not leave people without their cues. */
  #write(action: () => void): void {
    try {
      action();
    } catch (error) {
      this.#log.error('a plan run could not be written', error);
    }
  }
}
