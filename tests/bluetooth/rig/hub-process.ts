// The Bluetooth source in a process of its own that ends on signals as the hub does: for tests of stopping.

import { systemClock } from '../../../hub/base/system-clock.ts';
import { openBluetooth } from '../../../hub/sensors/bluetooth/open-bluetooth.ts';
import { inWords } from '../../support/in-words.ts';

const [adapter, sensorId, radioEntry] = process.argv.slice(2);
const opened = openBluetooth({
  settings: { adapters: [adapter!], library: '@abandonware/noble' },
  clock: systemClock,
  log: (line) => console.error(line),
  remembered: [{ sensorId: sensorId!, name: 'rig', kinds: [] }],
  radioEntry: radioEntry!,
});
if (!opened.ok) throw new Error(inWords(opened.reason));
const source = opened.value;
await source.start({
  packet: (packet) => process.send?.(packet.characteristic),
  sensorChanged: () => {},
  sourceNotices: () => {},
});
for (const signal of ['SIGINT', 'SIGTERM'] as const) {
  process.on(signal, () => void source.stop().then(() => process.exit(0)));
}
