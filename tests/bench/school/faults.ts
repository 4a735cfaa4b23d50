// What happens to a school's parts and cables in the partitions bench: each fault by itself, every kind in every round.

import { setTimeout as pause } from 'node:timers/promises';
import type { Network } from './namespaces.ts';
import type { Part } from './parts.ts';

export interface FaultPlace {
  readonly network: Network;
  readonly nats: Part;
  readonly postgres: Part;
  readonly school: Part;
  /** Each with its twin, a hub without a school, to which the same is done. */
  readonly hubs: readonly { readonly hub: Part; readonly twin: Part }[];
  /** From 0 up to 1. */
  readonly random: () => number;
}

export interface Fault {
  readonly name: string;
  /** Resolves when it is over and everything runs again. */
  readonly happen: () => Promise<void>;
}

const restarted = async (parts: readonly Part[], signal: NodeJS.Signals, awayMs: number): Promise<void> => {
  await Promise.all(parts.map((part) => part.end(signal)));
  await pause(awayMs);
  await Promise.all(parts.map((part) => part.start()));
};

const hung = async (parts: readonly Part[], forMs: number): Promise<void> => {
  for (const part of parts) part.signal('SIGSTOP');
  await pause(forMs);
  for (const part of parts) part.signal('SIGCONT');
};

const cut = async (network: Network, hosts: readonly string[], forMs: number): Promise<void> => {
  for (const host of hosts) network.cut(host);
  await pause(forMs);
  for (const host of hosts) network.mend(host);
};

const cutOneWay = async (network: Network, from: string, to: string, forMs: number): Promise<void> => {
  network.cutOneWay(from, to);
  await pause(forMs);
  network.mendOneWay(from, to);
};

const flap = async (network: Network, host: string, forMs: number, random: () => number): Promise<void> => {
  const endsAtMs = performance.now() + forMs;
  while (performance.now() < endsAtMs)
    await cut(network, [host], 50 + random() * 600).then(() => pause(random() * 800));
};

/** One round: every kind of fault once, hubs in turn, in an order by chance. `round`: from 0. */
export function faultsOfRound(place: FaultPlace, round: number): readonly Fault[] {
  const { network, nats, postgres, school, hubs, random } = place;
  const { hub, twin } = hubs[round % hubs.length]!;
  const other = hubs[(round + 1) % hubs.length]!;
  const both = [hub, twin];
  const between = (least: number, most: number): number => least + random() * (most - least);
  const faults: Fault[] = [
    { name: `hub killed`, happen: () => restarted(both, 'SIGKILL', between(0, 3_000)) },
    { name: `hub stopped and started`, happen: () => restarted(both, 'SIGTERM', between(0, 3_000)) },
    { name: `hub hung`, happen: () => hung(both, between(1_000, 6_000)) },
    { name: 'nats killed', happen: () => restarted([nats], 'SIGKILL', between(0, 15_000)) },
    { name: 'nats stopped and started', happen: () => restarted([nats], 'SIGTERM', between(0, 5_000)) },
    { name: 'nats hung', happen: () => hung([nats], between(3_000, 25_000)) },
    { name: 'postgres killed', happen: () => restarted([postgres], 'SIGKILL', between(0, 10_000)) },
    // The fast shutdown, as Debian's service does.
    {
      name: 'postgres stopped and started',
      happen: () => restarted([postgres], 'SIGINT', between(0, 5_000)),
    },
    { name: 'school killed', happen: () => restarted([school], 'SIGKILL', between(0, 15_000)) },
    { name: 'school stopped and started', happen: () => restarted([school], 'SIGTERM', between(0, 3_000)) },
    { name: 'school hung', happen: () => hung([school], between(3_000, 35_000)) },
    { name: 'hub cut off', happen: () => cut(network, [hub.name], between(3_000, 45_000)) },
    { name: 'school cut off', happen: () => cut(network, ['school'], between(3_000, 35_000)) },
    { name: 'postgres cut off', happen: () => cut(network, ['postgres'], between(3_000, 35_000)) },
    { name: 'nats cut off', happen: () => cut(network, ['nats'], between(3_000, 35_000)) },
    { name: 'hub to nats lost', happen: () => cutOneWay(network, hub.name, 'nats', between(3_000, 25_000)) },
    { name: 'nats to hub lost', happen: () => cutOneWay(network, 'nats', hub.name, between(3_000, 25_000)) },
    {
      name: 'nats to school lost',
      happen: () => cutOneWay(network, 'nats', 'school', between(3_000, 25_000)),
    },
    {
      name: 'school to postgres lost',
      happen: () => cutOneWay(network, 'school', 'postgres', between(3_000, 25_000)),
    },
    {
      name: 'postgres to school lost',
      happen: () => cutOneWay(network, 'postgres', 'school', between(3_000, 25_000)),
    },
    { name: 'hub flaps', happen: () => flap(network, hub.name, 10_000, random) },
    { name: 'school flaps', happen: () => flap(network, 'school', 10_000, random) },
    {
      name: 'hub killed while nats is cut off',
      happen: async () => {
        const isOver = cut(network, ['nats'], between(4_000, 12_000));
        await restarted([other.hub, other.twin], 'SIGKILL', between(0, 2_000));
        await isOver;
      },
    },
    {
      name: 'nats, postgres and school killed at once',
      happen: () => restarted([nats, postgres, school], 'SIGKILL', between(0, 5_000)),
    },
    {
      name: 'everything killed at once',
      happen: () =>
        restarted(
          [nats, postgres, school, ...hubs.flatMap((each) => [each.hub, each.twin])],
          'SIGKILL',
          between(0, 3_000),
        ),
    },
  ];
  return shuffled(faults, random);
}

function shuffled<Item>(items: readonly Item[], random: () => number): Item[] {
  const mixed = [...items];
  for (let last = mixed.length - 1; last > 0; last--) {
    const at = Math.floor(random() * (last + 1));
    [mixed[last], mixed[at]] = [mixed[at]!, mixed[last]!];
  }
  return mixed;
}
