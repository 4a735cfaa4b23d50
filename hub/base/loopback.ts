// Which addresses never leave this machine.

/** True for an address or name that only this machine itself can reach. */
export const isLoopback = (host: string): boolean =>
  host === 'localhost' || host === '::1' || /^127\.\d+\.\d+\.\d+$/.test(host);
