// What the server of a school has beside a hub's: rooms of other hubs, each served to pages as its own hub would, and that
// recordings are changed only where they were made.

import type { PageAccess } from './access.ts';
import type { RouteModule } from './route.ts';
import type { AddMetrics } from './routes/metrics.ts';

/** A page's socket, as far as a room needs it. */
export interface RoomSocket {
  sendText(text: string): void;
  sendFrame(frame: Uint8Array): void;
  readonly bufferedBytes: number;
  close(code: number, reason: string): void;
}

export interface RoomPage {
  received(text: string): void;
  left(): void;
}

export interface SchoolSide {
  /** Undefined where there is no such room. */
  enter(room: string, access: PageAccess, socket: RoomSocket): RoomPage | undefined;
  readonly routes: RouteModule;
  readonly addMetrics: AddMetrics;
}

/** Routes by which something may be changed at a school: who comes in, and the school's own. */
const changedAtSchool = /^\/api\/(school|own-person|join|join-codes|leave|devices|notices|computer)(\/|$)/;

/** Whether a request would change what is a hub's. */
export const isHubsToChange = (method: string, url: string): boolean =>
  !['GET', 'HEAD', 'OPTIONS'].includes(method) && !changedAtSchool.test(url);
