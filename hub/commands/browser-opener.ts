// Opens the page in the person's browser where the system offers a way; silence where it doesn't.

import { spawn } from 'node:child_process';
import { platform } from 'node:os';

/** Resolves to whether something was started; never throws, because the address is printed anyway. */
export function openInBrowser(url: string, environment: NodeJS.ProcessEnv): Promise<boolean> {
  const [command, ...args] = openerFor(url, environment);
  if (command === undefined) return Promise.resolve(false);
  return new Promise((resolve) => {
    const child = spawn(command, args, { stdio: 'ignore', detached: true });
    child.once('error', () => resolve(false));
    child.once('spawn', () => {
      child.unref();
      resolve(true);
    });
  });
}

function openerFor(url: string, environment: NodeJS.ProcessEnv): string[] {
  if (platform() === 'darwin') return ['open', url];
  if (platform() === 'win32') return ['cmd', '/c', 'start', '', url];
  // Without a display, xdg-open would start a text browser in this terminal.
  if (environment['DISPLAY'] === undefined && environment['WAYLAND_DISPLAY'] === undefined) return [];
  return ['xdg-open', url];
}
