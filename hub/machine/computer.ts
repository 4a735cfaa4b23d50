// What the checks ask of the computer. Every answer may be missing: then the check says that it could not look.

import type { Said } from '../../shared/said.ts';
import type { BluezFound } from '../sensors/bluetooth/bluez/look-at-bluez.ts';

export type PortState = 'free' | 'slackwater' | 'other' | 'forbidden';

export interface RadioAdapter {
  readonly name: string;
  /** Switched off by a key or by software (Linux rfkill). */
  readonly blocked: boolean;
}

export interface FolderState {
  readonly exists: boolean;
  readonly writable: boolean;
  readonly openToOthers: boolean;
}

export interface CertificateFacts {
  /** Unix ms. */
  readonly endsMs: number;
  /** SHA-256, pairs of hex digits with colons. */
  readonly fingerprintSha256: string;
}

export interface Computer {
  readonly platform: NodeJS.Platform;
  readonly nodeVersion: string;
  /** The native modules that do not load, and why. */
  brokenModules(): Promise<readonly { readonly name: string; readonly reason: string }[]>;
  /** Undefined where the system keeps no list of adapters that a program may read. */
  radioAdapters(): readonly RadioAdapter[] | undefined;
  /** Whether this program may use the adapter without being root; undefined where the system asks the person itself. */
  mayUseRadio(): boolean | undefined;
  /** The system's Bluetooth service; undefined on systems where the hub uses none. */
  radioService(): Promise<BluezFound | undefined>;
  /** The program that plays sound, or undefined. */
  soundPlayer(): Said | string | undefined;
  /** Whether the system's clock is kept right over the network; undefined when the system does not say. */
  clockIsKept(): boolean | undefined;
  wallNowMs(): number;
  freeBytes(folder: string): number;
  /** The longest of a few writes that were waited for until they lay on the disk, ms. */
  slowestWriteMs(folder: string): number;
  folderState(folder: string): FolderState;
  /** `encrypted`: a hub there would answer over TLS. */
  portState(host: string, port: number, encrypted: boolean): Promise<PortState>;
  /** The first certificate in a PEM file; undefined when there is none. */
  certificateIn(path: string): CertificateFacts | undefined;
  /** When the newest backup made by the clock was made, Unix ms; undefined without one. */
  newestBackupMs(folder: string): number | undefined;
  /** Names and addresses by which other devices could reach this computer. */
  networkAddresses(): readonly string[];
}
