// Watches a session for two who seem to wear each other's sensors, and raises it as an alarm of the watching.

import { isSameSaid, type Said, said } from '../../shared/said.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { Athlete, SupervisionAlarm } from '../../shared/views.ts';
import { createExchangedSignals, type ExchangedPair } from '../../src/signal/exchanged-signals.ts';
import type { LiveEvent, Session } from './live-event.ts';
import type { RaisedSupervision } from './supervision.ts';

export interface ExchangeWatchParts {
  readonly athletes: () => readonly Athlete[];
  readonly session: () => Session | null;
  readonly raise: (raised: RaisedSupervision) => void;
  readonly clear: (kind: SupervisionAlarm['kind'], subject: Said) => void;
}

/** As often as the core asks to be asked. */
export const lookIntervalMs = 5_000;

export class ExchangeWatch {
  readonly #parts: ExchangeWatchParts;
  #signals = createExchangedSignals();
  #raised: readonly Said[] = [];

  constructor(parts: ExchangeWatchParts) {
    this.#parts = parts;
  }

  readonly hear = (event: LiveEvent): void => {
    switch (event.type) {
      case 'sample': {
        const { athleteId, sample } = event;
        const from = sourceOf[sample.channel];
        if (from !== undefined && sample.quality !== 'bad')
          this.#signals.push({ athleteId, from, atMs: sample.atMs, bpm: sample.value });
        return;
      }
      case 'sensorMoved':
        for (const athleteId of [event.fromAthleteId, event.toAthleteId])
          if (athleteId !== null) this.#signals.forget(athleteId);
        return;
      case 'athleteLeft':
        this.#signals.forget(event.athleteId);
        return;
      case 'sessionStarted':
      case 'sessionEnded':
        this.#signals = createExchangedSignals();
        this.#follow([]);
        return;
      default:
        return;
    }
  };

  look(nowMs: MonotonicMs): void {
    this.#follow(this.#signals.look(nowMs));
  }

  #follow(pairs: readonly ExchangedPair[]): void {
    const { athletes, session, raise, clear } = this.#parts;
    const running = session();
    const known = athletes();
    const raised = pairs.map((pair) => {
      const both = pair.flatMap((id) => known.find(({ athleteId }) => athleteId === id) ?? []);
      return { both, subject: said('said.asTold', { text: both.map(({ name }) => name).join(', ') }) };
    });
    for (const subject of this.#raised)
      if (!raised.some((one) => isSameSaid(one.subject, subject))) clear('signalsExchanged', subject);
    if (running !== null)
      for (const { both, subject } of raised)
        raise({
          kind: 'signalsExchanged',
          priority: 'medium',
          subject,
          session: {
            sessionId: running.sessionId,
            title: running.title,
            athletes: both.map(({ athleteId, name }) => ({ athleteId, name })),
          },
        });
    this.#raised = raised.map(({ subject }) => subject);
  }
}

const sourceOf: Readonly<Partial<Record<string, 'strap' | 'oximeter'>>> = {
  heartRateBpm: 'strap',
  pulseRateBpm: 'oximeter',
};
