// Loads a Bluetooth library inside the radio process, with an H4 transport in place of the kernel's where asked.
// The shape described here is what the two supported libraries have in common. Nothing else names them.

import type { EventEmitter } from 'node:events';
import Module, { createRequire } from 'node:module';
import type { Said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { LinkStream } from './att-client.ts';
import { makeH4Socket } from './h4-socket.ts';
import { parseHciAddress } from './hci-address.ts';
import { makeKernelSocket, type NativeSocketClass } from './kernel-socket.ts';
import { withLinkParameters } from './link-parameters.ts';
import type { RadioProcessConfig } from './radio-messages.ts';

export interface NobleCharacteristic extends EventEmitter {
  readonly uuid: string;
  readonly properties: readonly string[];
  readAsync(): Promise<Buffer>;
  writeAsync(data: Buffer, withoutResponse: boolean): Promise<void>;
  subscribeAsync(): Promise<unknown>;
}

export interface NobleService {
  readonly uuid: string;
  discoverCharacteristicsAsync(uuids: string[]): Promise<NobleCharacteristic[]>;
}

export interface NoblePeripheral extends EventEmitter {
  readonly id: string;
  readonly connectable: boolean | undefined;
  readonly rssi: number | undefined;
  readonly advertisement:
    | {
        readonly localName?: string | undefined;
        readonly serviceUuids?: readonly string[] | undefined;
        readonly serviceData?: readonly { readonly uuid: string }[] | undefined;
      }
    | undefined;
  state: string;
  connect(): void;
  cancelConnect(): void;
  disconnect(): void;
  discoverServicesAsync(uuids: string[]): Promise<NobleService[]>;
}

export interface Noble extends EventEmitter {
  startScanning(services: string[], allowDuplicates: boolean): void;
  stopScanning(): void;
  /** Inner parts, reached for only to ask whether a cancelled attempt is over and to drop what is never dropped. */
  readonly _bindings?: {
    on?(event: 'connect', listener: (id: string, error: unknown) => void): unknown;
    disconnect?(id: string): void;
    readonly _pendingConnectionUuid?: string | null;
    /** Of libraries that speak HCI themselves: a link's number by its sensor's id, and its channels by that number. */
    readonly _handles?: Record<string, number>;
    readonly _aclStreams?: Record<number, LinkStream>;
    readonly _gatts?: Record<number, { readonly onAclStreamEncryptBinded?: () => void }>;
    readonly _addresses?: Record<string, unknown>;
    readonly _addresseTypes?: Record<string, unknown>;
    readonly _connectable?: Record<string, unknown>;
    readonly scannable?: Record<string, unknown>;
    readonly _gap?: { readonly _discoveries?: Record<string, unknown> } | null;
  };
  readonly _peripherals?: Record<string, NoblePeripheral> | Map<string, NoblePeripheral>;
  readonly _services?: Record<string, unknown>;
  readonly _characteristics?: Record<string, unknown>;
  readonly _descriptors?: Record<string, unknown>;
}

const socketModules: readonly string[] = [
  '@abandonware/bluetooth-hci-socket',
  '@stoprocent/bluetooth-hci-socket',
];

/**
 * Loads the library named. Throws what the library or the system throws: no such module, no Bluetooth in the kernel.
 * @param onTransportFault told when an H4 transport fails, which the library itself would not notice.
 */
export function loadNoble(config: RadioProcessConfig, onTransportFault: (reason: Said) => void): Noble {
  if (config.adapterIndex !== null) process.env.NOBLE_HCI_DEVICE_ID = String(config.adapterIndex);
  if (config.hciAddress !== null) {
    const address = parseHciAddress(config.hciAddress);
    if (!address.ok) throw new Error(sayInEnglish(address.reason));
    const socketClass = withLinkParameters(makeH4Socket(address.value, onTransportFault), true);
    replaceSocketModule(() => socketClass);
    // Off Linux the libraries take the system's own stack unless these name a USB adapter; the value is not used.
    process.env.BLUETOOTH_HCI_SOCKET_USB_VID ??= '0';
    process.env.BLUETOOTH_HCI_SOCKET_USB_PID ??= '0';
  } else if (process.platform === 'linux') {
    replaceSocketModule((module, native) => withLinkParameters(makeKernelSocket(native(), module), false));
  }
  return createRequire(import.meta.url)(config.library) as Noble;
}

/** Both libraries `require` their socket by name; inside this process that name answers with `replacement`. */
function replaceSocketModule(
  replacement: (module: string, native: () => NativeSocketClass) => unknown,
): void {
  const loader = Module as unknown as {
    _load(request: string, parent: unknown, isMain: boolean): unknown;
  };
  const load = loader._load;
  const replaced = new Map<string, unknown>();
  loader._load = (request, parent, isMain) => {
    if (!socketModules.includes(request)) return load.call(loader, request, parent, isMain);
    if (!replaced.has(request)) {
      const native = () => load.call(loader, request, parent, isMain) as NativeSocketClass;
      replaced.set(request, replacement(request, native));
    }
    return replaced.get(request);
  };
}

/** The native socket class of one of the libraries, for the helper that blocks in its stead. */
export function loadNativeSocket(module: string): NativeSocketClass {
  if (!socketModules.includes(module)) throw new Error(`unknownSocket ${module}`);
  // The socket is a dependency of a library, so it is looked for from there.
  const library = module.startsWith('@stoprocent/') ? '@stoprocent/noble' : '@abandonware/noble';
  const here = createRequire(import.meta.url);
  return createRequire(here.resolve(library))(module) as NativeSocketClass;
}
