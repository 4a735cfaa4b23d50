// By what names and addresses other devices on the network can reach this machine.

import { hostname, type NetworkInterfaceInfo, networkInterfaces } from 'node:os';

export interface LanNames {
  /** DNS names, best first: the announced name, then this machine's own. */
  readonly names: readonly string[];
  /** IPv4 addresses, likeliest first. */
  readonly addresses: readonly string[];
}

/** Interfaces that lead to containers, virtual machines or tunnels rather than to a phone in the room. */
const virtualInterface =
  /^(docker|br-|veth|virbr|vmnet|vboxnet|utun|tun|tap|wg|zt|tailscale|cni|flannel|lxc)/i;
/** RFC 1918: what a home or club network gives out. */
const privateAddress = /^(10\.|192\.168\.|172\.(1[6-9]|2\d|3[01])\.)/;
/** RFC 3927: what a machine gives itself when the network gives it nothing. */
const selfAssigned = /^169\.254\./;

/**
 * The names and addresses to put into the certificate and the join link. `announcedName` is without ".local".
 * Link-local IPv6 is left out: browsers refuse the zone it needs (RFC 6874 s1).
 */
export function lanNames(
  announcedName: string,
  interfaces: NodeJS.Dict<NetworkInterfaceInfo[]> = networkInterfaces(),
  machineName: string = hostname(),
): LanNames {
  const own = machineName.toLowerCase().replace(/\.$/, '');
  const names = [`${announcedName}.local`];
  if (/^[a-z0-9]([a-z0-9.-]*[a-z0-9])?$/.test(own) && own !== 'localhost') {
    names.push(own);
    if (!own.includes('.')) names.push(`${own}.local`);
  }
  const ranked: { address: string; rank: number }[] = [];
  for (const [name, entries] of Object.entries(interfaces)) {
    for (const entry of entries ?? []) {
      if (entry.internal || entry.family !== 'IPv4') continue;
      const rank =
        (virtualInterface.test(name) ? 4 : 0) +
        (selfAssigned.test(entry.address) ? 2 : 0) +
        (privateAddress.test(entry.address) ? 0 : 1);
      ranked.push({ address: entry.address, rank });
    }
  }
  ranked.sort((a, b) => a.rank - b.rank);
  return { names: [...new Set(names)], addresses: [...new Set(ranked.map((entry) => entry.address))] };
}
