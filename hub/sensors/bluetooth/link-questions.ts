// What is asked of a sensor and when it is worth asking: streams first, the rest as it comes. Pure.

import { markedStream } from '../../../src/profiles/stream-name.ts';
import type { LinkPolicy } from './link-policy.ts';
import type {
  Chore,
  LinkConfig,
  LinkPhase,
  ProfileLink,
  SensorKind,
  SensorRecord,
  SetupStep,
} from './link-state.ts';
import type { DiscoveredCharacteristic, RadioCommand } from './radio.ts';
import { shortestGapMs, usualGapMs } from './sensor-pace.ts';
import { assigned } from './uuid.ts';

/** Characteristics whose packets are readings, in the order they are subscribed to. */
export const standardStreams: readonly (readonly [service: string, characteristic: string])[] = [
  [assigned.heartRate, assigned.heartRateMeasurement],
  [assigned.pulseOximeter, assigned.plxContinuous],
  [assigned.pulseOximeter, assigned.plxSpotCheck],
];
const infoReads: readonly string[] = [
  assigned.serialNumber,
  assigned.batteryLevel,
  assigned.modelNumber,
  assigned.manufacturerName,
  assigned.firmwareRevision,
  assigned.bodySensorLocation,
  assigned.plxFeatures,
];
/** Reads that every sensor must answer, for asking "are you there": the device name is mandatory (Core 5.3 Vol 3 Part C s12.1). */
export const probeReads: readonly string[] = [assigned.batteryLevel, assigned.deviceName, ...infoReads];

/** Everything that a sensor offers is wanted, for a person to look at. */
export const isTakenWhole = (config: LinkConfig, sensorId: string): boolean =>
  config.takeEverything || config.examined?.sensorId === sensorId;

/** The profile that fits a sensor, if any: one on trial, else by a service it names, else by how its name begins. */
export function profileFor(config: LinkConfig, sensor: NamedSensor): ProfileLink | undefined {
  const { examined, profiles } = config;
  if (examined?.profile && examined.sensorId === sensor.sensorId) return examined.profile;
  let best: ProfileLink | undefined;
  let bestFit = 0;
  for (const profile of profiles) {
    const fit = fitOf(profile, sensor, profiles);
    if (fit <= bestFit) continue;
    best = profile;
    bestFit = fit;
  }
  return best;
}

interface NamedSensor {
  readonly sensorId?: string;
  readonly name: string;
  readonly services: readonly string[];
}

/** The longer part of its name a profile knows, the better; by the service alone less; 0 is not at all. */
function fitOf(profile: ProfileLink, sensor: NamedSensor, all: readonly ProfileLink[]): number {
  const { matchNamePrefix: prefix, matchServices } = profile;
  const hasService = matchServices.some((service) => sensor.services.includes(service));
  if (prefix !== null && sensor.name.startsWith(prefix)) return 3 + prefix.length + (hasService ? 0.5 : 0);
  if (!hasService) return 0;
  if (prefix === null) return 2;
  // Of another maker than the profile names. Where several makers share a serial port, not even known to be one of theirs.
  return streamsOf(profile).some((stream) => isShared(stream, all)) ? 0 : 1;
}

/** The characteristics that a profile reads. */
export const streamsOf = ({ notify, also }: ProfileLink): readonly string[] => [notify, ...(also ?? [])];
const isShared = (characteristic: string, profiles: readonly ProfileLink[]): boolean =>
  profiles.filter((profile) => streamsOf(profile).includes(characteristic)).length > 1;

/** What is recorded of whom a packet comes from, beside the sensor: its characteristic, marked where several profiles read it. */
export function streamOfPacket(
  config: LinkConfig,
  sensor: NamedSensor | undefined,
  characteristic: string,
): string {
  if (sensor === undefined || !isShared(characteristic, config.profiles)) return characteristic;
  const profile = profileFor(config, sensor);
  const isItsOwn = profile !== undefined && streamsOf(profile).includes(characteristic);
  return markedStream(characteristic, isItsOwn ? profile.name : null);
}

/** Listed once readings come: a sensor may lack, refuse or swallow all of it. */
export const lateServices: readonly string[] = [
  assigned.genericAccess,
  assigned.battery,
  assigned.deviceInformation,
];

export const placeOf = ({ service, characteristic }: DiscoveredCharacteristic) => ({
  service,
  characteristic,
});

/** Battery and information of a sensor whose characteristics are known. */
export function laterChores(characteristics: readonly DiscoveredCharacteristic[]): readonly Chore[] {
  const battery = characteristics.find(
    ({ characteristic, properties }) => characteristic === assigned.batteryLevel && canNotify(properties),
  );
  return [
    ...(battery === undefined ? [] : [{ type: 'subscribe', ...placeOf(battery) } as const]),
    ...infoReads.flatMap((uuid) => {
      const found = readable(characteristics, uuid);
      return found === undefined ? [] : [{ type: 'read', ...placeOf(found) } as const];
    }),
  ];
}

export function commandOf(chore: Chore, linkId: string): RadioCommand {
  switch (chore.type) {
    case 'discover':
      return { type: 'discover', linkId, services: chore.services };
    case 'write': {
      const { service, characteristic, bytes, withResponse } = chore;
      return { type: 'write', linkId, service, characteristic, bytes, withResponse };
    }
    default:
      return { type: chore.type, linkId, service: chore.service, characteristic: chore.characteristic };
  }
}

/**
 * As the sensor takes writes of a characteristic, whatever its profile says: of those that take one way only, the other is refused
 * (Core 5.3 Vol 3 Part G s3.3.1.1), and nobody who writes a profile should have to know.
 */
export function asTaken<Command extends { readonly characteristic: string; readonly withResponse: boolean }>(
  service: string,
  command: Command,
  characteristics: readonly DiscoveredCharacteristic[],
): Command {
  const properties =
    characteristics.find(
      (found) => found.service === service && found.characteristic === command.characteristic,
    )?.properties ?? [];
  const [asked, told] = [properties.includes('write'), properties.includes('writeWithoutResponse')];
  return asked === told ? command : { ...command, withResponse: asked };
}

/**
 * A link is made when the sensor next advertises, so an attempt is begun when that is near: at once for one that does
 * so often, else just before the next time. Otherwise a slow one would be missed by every attempt, and would hold up
 * the others meanwhile.
 */
export function isWorthAnAttempt(
  sensor: SensorRecord,
  heardAtMs: number,
  nowMs: number,
  policy: LinkPolicy,
): boolean {
  const failures = failuresOf(sensor);
  const everyMs = shortestGapMs(sensor.advertising);
  const isFresh = nowMs - heardAtMs <= policy.freshAdvertisementMs;
  if (failures === 0 && (everyMs === null || everyMs < policy.slowAdvertisingMs)) return isFresh;
  if (everyMs === null) return false;
  if (everyMs < policy.slowAdvertisingMs) return isFresh;
  if (nowMs - heardAtMs > policy.longestAdvertisingGapMs) return false;
  const untilNextMs = everyMs - ((nowMs - heardAtMs) % everyMs);
  return untilNextMs <= policy.attemptAheadMs;
}

/** Long enough to meet its next advertisement, short while others wait. */
export function attemptMs(sensor: SensorRecord, crowded: boolean, policy: LinkPolicy): number {
  if (!crowded) return policy.connectTimeoutMs;
  const everyMs = shortestGapMs(sensor.advertising) ?? 0;
  const isSlow = everyMs >= policy.slowAdvertisingMs;
  const neededMs = isSlow ? 2 * policy.attemptAheadMs : everyMs + policy.attemptAheadMs / 2;
  return Math.min(policy.connectTimeoutMs, Math.max(policy.connectTimeoutCrowdedMs, neededMs));
}

/** A sensor's silence becomes a question only beyond its own pace: some send every second, some every four. */
export const patienceWith = (sensor: SensorRecord, policy: LinkPolicy): number =>
  Math.max(policy.probeAfterSilenceMs, 1.4 * (usualGapMs(sensor.sending) ?? 0));

/** The command that keeps a profile's sensor sending, when it is due. */
export function dueKeepAlive(
  config: LinkConfig,
  sensor: SensorRecord,
  phase: Extract<LinkPhase, { phase: 'ready' }>,
  nowMs: number,
): SetupStep | null {
  const profile = profileFor(config, sensor);
  const command = profile?.keepAlive;
  if (!profile || !command || nowMs - phase.keptAliveAtMs < command.everyMs) return null;
  return {
    type: 'write',
    service: profile.service,
    ...asTaken(profile.service, command, phase.characteristics),
  };
}

/** Single measurements are no use in a hold: a sensor that offers nothing else does not count as an oximeter. */
export const withoutSpotChecks = (
  kinds: readonly SensorKind[],
  onlySpotChecks: boolean,
): readonly SensorKind[] => (onlySpotChecks ? kinds.filter((kind) => kind !== 'oximeter') : kinds);

export const failuresOf = (sensor: SensorRecord): number =>
  sensor.phase.phase === 'searching' ? sensor.phase.failures : 0;

export const canNotify = (properties: readonly string[]): boolean =>
  properties.includes('notify') || properties.includes('indicate');

export const readable = (
  characteristics: readonly DiscoveredCharacteristic[],
  uuid: string,
): DiscoveredCharacteristic | undefined =>
  characteristics.find((found) => found.characteristic === uuid && found.properties.includes('read'));

/** A name fit to show: no control characters, at most 40 characters; null when nothing is left. */
export function cleanName(name: string | null): string | null {
  const clean = (name ?? '').replaceAll(/\p{C}/gu, '').trim().slice(0, 40);
  return clean === '' ? null : clean;
}

/** Text that a sensor sent, shown as it came but for what cannot be shown. */
export function readableText(bytes: Uint8Array): string | null {
  return cleanName(String.fromCharCode(...bytes.slice(0, 64)).replaceAll(/[^\x20-\x7e]/g, ''));
}
