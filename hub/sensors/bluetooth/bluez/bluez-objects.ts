// What bluetoothd says there is: adapters, devices, services and characteristics by their paths, kept by its signals.
// Pure, but for what it is told.

import { shortUuid } from '../uuid.ts';

export const names = {
  adapter: 'org.bluez.Adapter1',
  device: 'org.bluez.Device1',
  service: 'org.bluez.GattService1',
  characteristic: 'org.bluez.GattCharacteristic1',
  battery: 'org.bluez.Battery1',
  agentManager: 'org.bluez.AgentManager1',
  agent: 'org.bluez.Agent1',
  objectManager: 'org.freedesktop.DBus.ObjectManager',
  properties: 'org.freedesktop.DBus.Properties',
} as const;

export type Properties = Readonly<Record<string, unknown>>;

export interface Found {
  readonly service: string;
  readonly characteristic: string;
  readonly properties: readonly string[];
  readonly path: string;
}

/** `AA:BB:CC:DD:EE:FF` as the rest of the hub names a sensor: lower case, without colons. */
export const peripheralIdOf = (address: string): string => address.toLowerCase().replaceAll(':', '');

export class BluezObjects {
  readonly #objects = new Map<string, Map<string, Properties>>();

  add(path: string, interfaceName: string, properties: Properties): void {
    const interfaces = this.#objects.get(path) ?? new Map<string, Properties>();
    interfaces.set(interfaceName, { ...interfaces.get(interfaceName), ...properties });
    this.#objects.set(path, interfaces);
  }

  remove(path: string, interfaceNames: readonly string[]): void {
    const interfaces = this.#objects.get(path);
    for (const name of interfaceNames) interfaces?.delete(name);
    if (interfaces?.size === 0) this.#objects.delete(path);
  }

  /** Those that became unknown are no longer there. */
  change(path: string, interfaceName: string, changed: Properties, unknown: readonly string[]): void {
    const known = { ...this.get(path, interfaceName), ...changed };
    for (const name of unknown) delete (known as Record<string, unknown>)[name];
    this.add(path, interfaceName, {});
    this.#objects.get(path)!.set(interfaceName, known);
  }

  get(path: string, interfaceName: string): Properties | undefined {
    return this.#objects.get(path)?.get(interfaceName);
  }

  /** Paths with this interface below `root`, in the order of their names. */
  pathsOf(interfaceName: string, root = ''): readonly string[] {
    return [...this.#objects.keys()]
      .filter((path) => path.startsWith(root) && this.#objects.get(path)!.has(interfaceName))
      .toSorted();
  }

  /** A device of this adapter by its address, as the hub names it. */
  deviceOf(adapterPath: string, peripheralId: string): string | undefined {
    return this.pathsOf(names.device, `${adapterPath}/`).find(
      (path) => peripheralIdOf(textOf(this.get(path, names.device)?.['Address'])) === peripheralId,
    );
  }

  characteristicsOf(devicePath: string): readonly Found[] {
    return this.pathsOf(names.characteristic, `${devicePath}/`).flatMap((path) => {
      const properties = this.get(path, names.characteristic)!;
      const service = this.get(textOf(properties['Service']), names.service);
      if (service === undefined) return [];
      return [
        {
          service: shortUuid(textOf(service['UUID'])),
          characteristic: shortUuid(textOf(properties['UUID'])),
          properties: listOf(properties['Flags']).map(propertyOfFlag),
          path,
        },
      ];
    });
  }
}

/** BlueZ's word for a property, as the libraries write it. */
const propertyOfFlag = (flag: string): string =>
  flag === 'write-without-response' ? 'writeWithoutResponse' : flag;

export const textOf = (value: unknown): string => (typeof value === 'string' ? value : '');
export const listOf = (value: unknown): readonly string[] =>
  Array.isArray(value) ? value.filter((item): item is string => typeof item === 'string') : [];
export const bytesOf = (value: unknown): Uint8Array =>
  value instanceof Uint8Array ? Uint8Array.from(value) : Uint8Array.from(Array.isArray(value) ? value : []);
