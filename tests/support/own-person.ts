// Tests as the hub's own person: the cookie of a link from its terminal, for hubs in this process and for the real program.

import type { BrowserContext } from 'playwright-core';
import type { Clock } from '../../hub/base/ports/clock.ts';
import { noDeviceFile } from '../../hub/devices/join/device-file.ts';
import { createDeviceRegister } from '../../hub/devices/join/device-register.ts';
import type { Joining } from '../../hub/devices/join/joining.ts';
import type { LanAccess } from '../../hub/devices/lan/lan-access.ts';
import { createOwnPerson } from '../../hub/devices/own-person/own-person.ts';
import { createFakeClock } from './fake-clock.ts';

/** The key of every hub that `serveTestHub` serves. */
export const testOwnKey = Buffer.alloc(32, 7);

const ownPerson = createOwnPerson(testOwnKey, createFakeClock(0, Date.UTC(2100, 0)));

/** Good whatever a test's clock says. */
export const ownCookie = `${ownPerson.cookieName}=${ownPerson.enter(ownPerson.linkCode())}`;

/** For `app.inject`: a request of the own person's browser. */
export const ownHeaders = { host: 'localhost', cookie: ownCookie } as const;

/** For `startHttpServer` in benches: the own person of tests, and devices that are forgotten at the end. */
export const joiningOfTests = (
  clock: Clock,
  makeId: () => string,
  lan: LanAccess | null = null,
): Joining => ({
  ownPerson: createOwnPerson(testOwnKey, clock),
  devices: createDeviceRegister({ clock, makeId, file: noDeviceFile, athleteExists: () => true }),
  lan,
});

/** Cookies of hubs on this machine by their origin. */
const cookies = new Map<string, string>();

export function rememberOwnCookie(url: string, cookie: string): void {
  cookies.set(new URL(url).origin, cookie);
}

/** The own person's cookie for a hub at `url`; undefined for one that isn't on this machine or has no such person. */
export const ownCookieOf = (url: string): string | undefined => cookies.get(new URL(url).origin);

/** As a browser does that was opened by the link: trades the code of a link for the cookie, and remembers it. */
export async function enterByLink(link: string): Promise<void> {
  const { origin, hash } = new URL(link);
  const answer = await fetch(`${origin}/api/own-person`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', origin },
    body: JSON.stringify({ code: hash.replace('#own=', '') }),
  });
  const cookie = answer.headers.get('set-cookie')?.split(';')[0];
  if (cookie === undefined) throw new Error(`the link was refused with ${answer.status}`);
  cookies.set(origin, cookie);
}

/** `fetch` with the own person's cookie. */
export function fetchAsOwn(url: string, init: RequestInit = {}): Promise<Response> {
  const cookie = ownCookieOf(url);
  return fetch(url, { ...init, headers: { ...init.headers, ...(cookie !== undefined && { cookie }) } });
}

/** Gives a browser the cookie it would have from the link. */
export async function makeOwnBrowser(context: BrowserContext, url: string): Promise<void> {
  const [name = '', ...value] = (ownCookieOf(url) ?? '').split('=');
  if (name !== '') await context.addCookies([{ name, value: value.join('='), url: new URL(url).origin }]);
}
