// Network namespaces as separate computers on one switch, whose cables can be pulled, whole or in one direction. Needs root
// and iproute2.

import { type ChildProcess, execFileSync, type SpawnOptions, spawn } from 'node:child_process';

const ip = (...args: readonly string[]): void => {
  execFileSync('ip', args, { stdio: ['ignore', 'ignore', 'pipe'] });
};

/** Of an address that nobody has: what is sent there is lost. */
const nobody = '02:00:00:00:00:fe';

export class Network {
  readonly #prefix: string;
  readonly #switch: string;
  readonly #hosts = new Map<string, number>();

  /** `prefix`: a few characters of its own, so that two networks do not meet. */
  constructor(prefix: string) {
    this.#prefix = prefix;
    this.#switch = `${prefix}-switch`;
    ip('netns', 'add', this.#switch);
    ip('-n', this.#switch, 'link', 'add', 'bridge', 'type', 'bridge');
    ip('-n', this.#switch, 'link', 'set', 'bridge', 'up');
  }

  add(host: string): void {
    const number = this.#hosts.size + 1;
    this.#hosts.set(host, number);
    const space = this.#space(host);
    const port = `port${number}`;
    ip('netns', 'add', space);
    ip('-n', this.#switch, 'link', 'add', port, 'type', 'veth', 'peer', 'name', 'eth0', 'netns', space);
    ip('-n', this.#switch, 'link', 'set', port, 'master', 'bridge', 'up');
    ip('-n', space, 'link', 'set', 'lo', 'up');
    ip('-n', space, 'link', 'set', 'eth0', 'address', this.#hardwareOf(host), 'up');
    ip('-n', space, 'address', 'add', `${this.addressOf(host)}/24`, 'dev', 'eth0');
  }

  addressOf(host: string): string {
    return `10.77.0.${this.#numberOf(host)}`;
  }

  /** A process there; its id is the program's own. */
  spawn(host: string, command: readonly string[], options: SpawnOptions): ChildProcess {
    return spawn('ip', ['netns', 'exec', this.#space(host), ...command], options);
  }

  run(host: string, command: readonly string[]): string {
    return execFileSync('ip', ['netns', 'exec', this.#space(host), ...command], {
      encoding: 'utf8',
      maxBuffer: 1 << 30,
    });
  }

  /** Nothing goes to or from it. */
  cut(host: string): void {
    ip('-n', this.#switch, 'link', 'set', `port${this.#numberOf(host)}`, 'down');
  }

  mend(host: string): void {
    ip('-n', this.#switch, 'link', 'set', `port${this.#numberOf(host)}`, 'up');
  }

  /** What `from` sends to `to` is lost; what comes back arrives. */
  cutOneWay(from: string, to: string): void {
    ip(
      '-n',
      this.#space(from),
      'neigh',
      'replace',
      this.addressOf(to),
      'lladdr',
      nobody,
      'dev',
      'eth0',
      'nud',
      'permanent',
    );
  }

  mendOneWay(from: string, to: string): void {
    ip('-n', this.#space(from), 'neigh', 'del', this.addressOf(to), 'dev', 'eth0');
  }

  /** Everything in it must have ended. */
  remove(): void {
    for (const host of this.#hosts.keys()) ip('netns', 'del', this.#space(host));
    ip('netns', 'del', this.#switch);
  }

  #space(host: string): string {
    return `${this.#prefix}-${host}`;
  }

  #numberOf(host: string): number {
    const number = this.#hosts.get(host);
    if (number === undefined) throw new Error(`no host ${host}`);
    return number;
  }

  #hardwareOf(host: string): string {
    return `02:00:00:00:00:${this.#numberOf(host).toString(16).padStart(2, '0')}`;
  }
}
