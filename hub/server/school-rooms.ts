// What the server of a school has beside a hub's: rooms of other hubs, each served to pages as its own hub would, and that
// recordings are changed only where they were made.

import { said } from '../../shared/said.ts';
import type { Refusal } from '../base/refusal.ts';
import { maySeeSession, type PageAccess, type ScopeOfRooms } from './access.ts';
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
  /** Hubs by their names at the school. */
  readonly hubs: () => readonly string[];
  /** Who trains there, and what the rooms are called. */
  readonly scopeOf: ScopeOfRooms;
}

/** What a coach of some rooms may ask of a school: all else is of the school as a whole. */
const readByRoomCoach = [
  /^\/api\/(access|athletes|health|saved|sensors|hub-certificate|emergency-card|recordings|sessions|plan-runs)$/,
  /^\/api\/school\/(rooms|health|aside)$/,
  /^\/api\/school\/aside\/:sessionId\//,
  /^\/api\/sessions\/:sessionId(\/|$)/,
  /^\/api\/athletes\/:athleteId\/(history|beside\/:otherAthleteId|sharing)$/,
  /^\/api\/(authority|spoken-cues)\//,
];

/** Why a coach of some rooms may not ask for it; undefined where they may. `sessionId`: of the recording it is about. */
export function refusalOfRooms(
  access: PageAccess,
  method: string,
  url: string,
  sessionId: string | undefined,
): Refusal | undefined {
  if (access.rooms === undefined || !url.startsWith('/api/')) return undefined;
  if (/^\/api\/(leave|join)$/.test(url)) return undefined;
  const isRead = ['GET', 'HEAD', 'OPTIONS'].includes(method);
  if (!isRead || !readByRoomCoach.some((path) => path.test(url)))
    return { code: 'notAllowed', said: said('school.wholeSchoolOnly') };
  return sessionId === undefined || maySeeSession(access, sessionId)
    ? undefined
    : { code: 'unknownSession', said: said('refusal.unknownRecording') };
}

/** Routes by which something may be changed at a school: who comes in, and the school's own. */
const changedAtSchool = /^\/api\/(school|own-person|join|join-codes|leave|devices|notices|computer)(\/|$)/;

/** Whether a request would change what is a hub's. */
export const isHubsToChange = (method: string, url: string): boolean =>
  !['GET', 'HEAD', 'OPTIONS'].includes(method) && !changedAtSchool.test(url);
