// A radio in memory: remembers what it was told, answers when the test says so. For the link logic and its shell.

import type { Radio, RadioCommand, RadioEvent, RadioListener } from '../../../hub/sensors/bluetooth/radio.ts';
import type { Said } from '../../../shared/said.ts';

export class FakeRadio implements Radio {
  readonly commands: RadioCommand[] = [];
  readonly restarts: Said[] = [];
  stopped = false;
  listener: RadioListener | null = null;
  readonly health = { clockUncertaintyMs: 0, starts: 1, faults: 0, processId: null };

  start(listener: RadioListener): void {
    this.listener = listener;
  }

  send(command: RadioCommand): void {
    this.commands.push(command);
  }

  restart(reason: Said): void {
    this.restarts.push(reason);
  }

  async stop(): Promise<void> {
    this.stopped = true;
  }

  emit(event: RadioEvent): void {
    this.listener?.event(event);
  }
}
