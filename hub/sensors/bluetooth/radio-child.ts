// Entry of the radio process: one Bluetooth library, or BlueZ, on one adapter, commands in and events out through the pipe to
// the hub. It lives apart because a library can block for seconds. It ends when the hub does, closing its links first.

import { said } from '../../../shared/said.ts';
import { BluezRadio } from './bluez/bluez-radio.ts';
import { connectorRole, runConnector } from './kernel-socket.ts';
import { loadNativeSocket, loadNoble } from './noble-library.ts';
import { NobleRadio } from './noble-radio.ts';
import type { RadioEvent } from './radio.ts';
import type { FromRadioProcess, RadioProcessConfig, ToRadioProcess } from './radio-messages.ts';
import { problemOf } from './radio-notice.ts';

/** For links to close before the process ends regardless. */
const closeLimitMs = 1_500;
/** More faults than this within the window and the library's state is not to be trusted any more. */
const mostFaults = 50;
const faultWindowMs = 10_000;

const say = (message: FromRadioProcess): void => {
  if (process.connected) process.send?.(message, undefined, undefined, () => {});
};
const textOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));

function runRadio(): void {
  const faultTimes: number[] = [];
  const onFault = (error: unknown): void => {
    const nowMs = performance.now();
    faultTimes.push(nowMs);
    while (nowMs - faultTimes[0]! > faultWindowMs) faultTimes.shift();
    say({ type: 'fault', message: textOf(error) });
    if (faultTimes.length > mostFaults) process.exit(70);
  };
  process.on('uncaughtException', onFault);
  process.on('unhandledRejection', onFault);

  let radio: NobleRadio | BluezRadio | null = null;
  let ending = false;
  async function end(): Promise<void> {
    if (ending) return;
    ending = true;
    await radio?.close(closeLimitMs);
    process.exit(0);
  }

  // Ctrl-C reaches every process of the terminal. The hub decides when to end, and says so through the pipe; this
  // listener comes after the library's own, which would exit at once if it were the last.
  const ignoreSignal = (): void => {};
  const ignoreSignals = (): void => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) {
      process.removeListener(signal, ignoreSignal);
      process.on(signal, ignoreSignal);
    }
  };
  ignoreSignals();
  process.on('disconnect', () => void end());

  process.on('message', (message: ToRadioProcess) => {
    switch (message.type) {
      case 'ping':
        say({ type: 'pong', askedAtMs: message.askedAtMs, answeredAtMs: performance.now() });
        return;
      case 'command':
        radio?.handle(message.command);
        return;
      case 'shutdown':
        void end();
        return;
    }
  });

  const config = JSON.parse(process.argv[2] ?? '{}') as RadioProcessConfig;
  try {
    const emit = (event: RadioEvent): void => {
      if (event.type === 'on') ignoreSignals();
      say({ type: 'event', event });
    };
    if (config.library === 'bluez') {
      radio = new BluezRadio(config.adapterIndex, emit);
    } else {
      const noble = loadNoble(config, (reason) => emit({ type: 'problem', problem: 'noAdapter', reason }));
      radio = new NobleRadio(noble, emit);
    }
    radio.start();
  } catch (error) {
    const text = textOf(error);
    const reason = said('said.asTold', { text });
    say({ type: 'event', event: { type: 'problem', problem: problemOf(text), reason } });
  }
}

if (process.argv[2] === connectorRole) runConnector(loadNativeSocket);
else runRadio();
