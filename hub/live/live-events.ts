// Hands each event to everyone who listens. The recorder hears first; of an alarm it hears last, because an alarm waits
// for no disk and the bytes that it rests on are stored already.

import type { HubLog } from '../base/log.ts';
import type { LiveEvent, LiveListener } from './live-event.ts';

export class LiveEvents {
  readonly #log: HubLog;
  readonly #listeners = new Set<LiveListener>();
  #recorder: LiveListener | undefined;

  constructor(log: HubLog) {
    this.#log = log;
  }

  recordWith(recorder: LiveListener): void {
    this.#recorder = recorder;
  }

  subscribe(listener: LiveListener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  publish(event: LiveEvent): void {
    const isAlarm = event.type === 'alarms' || event.type === 'supervisionChanged';
    if (!isAlarm) this.#tell(this.#recorder, event);
    for (const listener of this.#listeners) this.#tell(listener, event);
    if (isAlarm) this.#tell(this.#recorder, event);
  }

  #tell(listener: LiveListener | undefined, event: LiveEvent): void {
    try {
      listener?.(event);
    } catch (error) {
      // One listener that breaks must not keep an alarm from the others.
      this.#log.error(`a listener failed at "${event.type}"`, error);
    }
  }
}
