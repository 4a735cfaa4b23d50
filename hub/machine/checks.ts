// The checks of the computer: each asks, decides, and says what to do. What is too slow or too little is said beside the number.

import { join } from 'node:path';
import { said } from '../../shared/said.ts';
import type { Computer, PortState } from './computer.ts';
import type { CheckName, Finding } from './finding.ts';

export interface CheckSettings {
  readonly dataFolder: string;
  readonly host: string;
  readonly port: number;
  /** Where other devices are let in; undefined where none are. */
  readonly lan?: { readonly host: string; readonly port: number } | undefined;
  /** A certificate from elsewhere (`--certificate`), absolute; undefined where the hub makes its own. */
  readonly givenCertificate?: string | undefined;
  /** The way to Bluetooth that the settings choose. */
  readonly radio?: string | undefined;
  /** False while a session is recorded: nothing else is to write to its disk then. */
  readonly measuresDisk: boolean;
  /** Where backups are made by the clock, and how often; undefined where the settings name no folder. */
  readonly backups?: { readonly folder: string; readonly everyHours: number } | undefined;
}

type Answer = Omit<Finding, 'check'>;
export type Check = (computer: Computer, settings: CheckSettings) => Answer | Promise<Answer>;

const good = (sentence: Answer['said']): Answer => ({ state: 'good', said: sentence });
const warning = (sentence: Answer['said']): Answer => ({ state: 'warning', said: sentence });
const fault = (sentence: Answer['said']): Answer => ({ state: 'fault', said: sentence });

/** A body in the way takes a signal for up to 3 s; the hub's own links outlive 5.12 s (hub/sensors/bluetooth/README.md). */
const leastLinkTimeoutMs = 4_000;
/** net/bluetooth/hci_core.c: le_supv_timeout. */
const kernelLinkTimeoutMs = 420;
/** package.json's `engines`. */
const leastNode = [20, 19] as const;
/** On later ones the database module can abort (hub/slackwater.mjs). */
const newestNode = 22;
/** As the recorder warns (recorder/data-directory.ts): about 100 hours of 20 athletes with waves. */
const comfortableFreeBytes = 200 * 2 ** 20;
/** Packets are committed twice a second; a disk slower than this falls behind. Our choice. */
const slowWriteMs = 300;
/** The hub renews its certificate 30 days before its end, between sessions: one nearer to it is of a hub that does not run. */
const renewBeforeEndMs = 30 * 24 * 3_600_000;
/** Who renews by the clock does it a month before the end. Our choice. */
const tellGivenBeforeEndMs = 14 * 24 * 3_600_000;
/** A clock before this program was written is wrong: 2026-01-01. */
const leastPlausibleMs = 1_767_225_600_000;

function portAnswer(
  state: PortState,
  { host, port, option }: { host: string; port: number; option: string },
): Answer {
  switch (state) {
    case 'free':
      return good(said('machine.port.free', { port }));
    case 'slackwater':
      return good(said('machine.port.ours', { port }));
    case 'other':
      return fault(said('machine.port.taken', { port, option }));
    case 'forbidden':
      return fault(said('machine.port.forbidden', { port, host, option }));
  }
}

export const checks: Readonly<Record<CheckName, Check>> = {
  node({ nodeVersion }) {
    const [major = 0, minor = 0] = nodeVersion.split('.').map(Number);
    const isEnough = major > leastNode[0] || (major === leastNode[0] && minor >= leastNode[1]);
    if (major > newestNode)
      return fault(said('machine.node.new', { version: nodeVersion, newest: newestNode }));
    return isEnough
      ? good(said('machine.node.good', { version: nodeVersion }))
      : fault(said('machine.node.old', { version: nodeVersion, least: leastNode.join('.') }));
  },
  async modules(computer) {
    const [broken] = await computer.brokenModules();
    return broken === undefined
      ? good(said('machine.modules.good'))
      : fault(said('machine.modules.broken', { name: broken.name, reason: broken.reason }));
  },
  radio(computer) {
    const adapters = computer.radioAdapters();
    if (adapters === undefined) return warning(said('machine.radio.unknown'));
    const [usable] = adapters.filter(({ blocked }) => !blocked);
    if (usable !== undefined) return good(said('machine.radio.good', { name: usable.name }));
    const [blocked] = adapters;
    return blocked === undefined
      ? fault(said('machine.radio.none'))
      : fault(said('machine.radio.blocked', { name: blocked.name }));
  },
  radioRight(computer, { radio }) {
    if (radio === 'bluez') return good(said('machine.radioRight.notNeeded'));
    const may = computer.mayUseRadio();
    if (may === undefined) return warning(said('machine.radioRight.asked'));
    if (!may) return fault(said('machine.radioRight.missing'));
    return computer.radioAdapters()?.length === 0
      ? warning(said('machine.radioRight.noAdapter'))
      : good(said('machine.radioRight.good'));
  },
  async radioService(computer, { radio }) {
    const service = await computer.radioService();
    if (service === undefined) return good(said('machine.radioService.none'));
    const { state, version = '?', linkTimeoutMs = kernelLinkTimeoutMs } = service;
    if (radio !== 'bluez')
      return good(
        state === 'runs'
          ? said('machine.radioService.beside', { version })
          : said('machine.radioService.unused'),
      );
    if (state === 'absent') return fault(said('radio.noDaemon'));
    if (state === 'forbidden') return fault(said('radio.noPermission.bluez'));
    return linkTimeoutMs < leastLinkTimeoutMs
      ? warning(said('machine.radioService.shortLinks', { version, timeoutS: linkTimeoutMs / 1_000 }))
      : good(said('machine.radioService.good', { version, timeoutS: linkTimeoutMs / 1_000 }));
  },
  sound(computer) {
    const player = computer.soundPlayer();
    return player === undefined
      ? warning(said('machine.sound.none'))
      : good(said('machine.sound.good', { player }));
  },
  clock(computer) {
    if (computer.wallNowMs() < leastPlausibleMs) return fault(said('machine.clock.wrong'));
    const kept = computer.clockIsKept();
    if (kept === undefined) return warning(said('machine.clock.unknown'));
    return kept ? good(said('machine.clock.good')) : warning(said('machine.clock.alone'));
  },
  folder(computer, { dataFolder }) {
    const { exists, writable, openToOthers } = computer.folderState(dataFolder);
    if (!writable) return fault(said('machine.folder.unwritable', { folder: dataFolder }));
    if (!exists) return good(said('machine.folder.new', { folder: dataFolder }));
    return openToOthers
      ? warning(said('machine.folder.open', { folder: dataFolder }))
      : good(said('machine.folder.good', { folder: dataFolder }));
  },
  disk(computer, { dataFolder, measuresDisk }) {
    const freeBytes = computer.freeBytes(dataFolder);
    const freeMb = Math.floor(freeBytes / 2 ** 20);
    if (freeBytes < comfortableFreeBytes) return fault(said('machine.disk.full', { freeMb }));
    if (!measuresDisk) return good(said('machine.disk.unmeasured', { freeMb }));
    const slowestWriteMs = computer.slowestWriteMs(dataFolder);
    const slowestMs = Math.round(slowestWriteMs);
    return slowestWriteMs > slowWriteMs
      ? warning(said('machine.disk.slow', { freeMb, slowestMs }))
      : good(said('machine.disk.good', { freeMb, slowestMs }));
  },
  backups(computer, { backups }) {
    if (backups === undefined) return warning(said('machine.backups.none'));
    const { folder, everyHours } = backups;
    const { exists, writable } = computer.folderState(folder);
    if (!exists || !writable) return fault(said('machine.backups.noFolder', { folder }));
    const madeMs = computer.newestBackupMs(folder);
    if (madeMs === undefined) return warning(said('machine.backups.noneYet', { folder }));
    const hours = Math.max(0, Math.floor((computer.wallNowMs() - madeMs) / 3_600_000));
    // One is missed by a computer that slept: two are not.
    return hours > 2 * everyHours
      ? warning(said('machine.backups.old', { hours, folder }))
      : good(said('machine.backups.good', { hours, folder }));
  },
  async port(computer, { host, port }) {
    return portAnswer(await computer.portState(host, port, false), { host, port, option: '--port' });
  },
  async lanPort(computer, { lan }) {
    if (lan === undefined) return good(said('machine.lanPort.none'));
    return portAnswer(await computer.portState(lan.host, lan.port, true), { ...lan, option: '--lan-port' });
  },
  certificate(computer, { dataFolder, givenCertificate }) {
    const path = givenCertificate ?? join(dataFolder, 'lan-certificate.pem');
    const found = computer.certificateIn(path);
    if (found === undefined)
      return givenCertificate === undefined
        ? good(said('machine.certificate.none'))
        : fault(said('lan.given.noCertificate', { path }));
    const { endsMs, fingerprintSha256: fingerprint } = found;
    const leftMs = endsMs - computer.wallNowMs();
    const days = Math.floor(leftMs / (24 * 3_600_000));
    if (givenCertificate === undefined && leftMs <= 0) return warning(said('machine.certificate.ended'));
    if (givenCertificate === undefined)
      return leftMs < renewBeforeEndMs
        ? warning(said('machine.certificate.ends', { days }))
        : good(said('machine.certificate.good', { days, fingerprint }));
    if (leftMs <= 0) return fault(said('machine.certificate.givenEnded', { path }));
    return leftMs < tellGivenBeforeEndMs
      ? warning(said('machine.certificate.givenEnds', { path, days }))
      : good(said('machine.certificate.good', { days, fingerprint }));
  },
  names(computer) {
    const addresses = computer.networkAddresses();
    return addresses.length === 0
      ? warning(said('machine.names.none'))
      : good(said('machine.names.good', { addresses: addresses.join(', ') }));
  },
};
