// What the hub answers its school: all that a page draws the present from, and carrying out what a person at the school asks,
// as the hub decides. A school's pages count as no output: whoever lies here needs one in the room.

import * as z from 'zod/mini';
import { fillBlock, liveFrame } from '../../../shared/live-frame/write-live-frame.ts';
import { protocolVersion } from '../../../shared/protocol-version.ts';
import { said } from '../../../shared/said.ts';
import { type RoomDone, type RoomWelcome, roomDoSchema } from '../../../shared/school/room-questions.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { AuditLog } from '../../base/ports/audit-log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Hub } from '../../live/hub.ts';
import type { PageAccess } from '../../server/access.ts';
import { auditEntry } from '../../server/audit.ts';
import type { PageFeed } from '../../server/page-feed.ts';
import { carryOut } from '../../server/page-requests.ts';
import { packJson } from '../kept-bytes.ts';

/** A wall draws three minutes; of hours of ten rooms a page that comes would read millions of samples before it drew anything. */
const drawnAtSchoolMs = 200_000;

export interface RoomAnswerParts {
  readonly hub: Hub;
  readonly feed: PageFeed;
  readonly audit: Pick<AuditLog, 'append'>;
  readonly clock: Clock;
  /** Which school asks. */
  readonly school: string;
}

export async function answerRoom(
  parts: RoomAnswerParts,
  question: 'welcome' | 'do',
  body: Uint8Array,
  toldUpTo: () => number,
): Promise<Uint8Array> {
  return question === 'welcome' ? packJson(welcome(parts, toldUpTo)) : packJson(carryOutFor(parts, body));
}

/** `toldUpTo`: the number of the last live message that was told. */
function welcome({ hub, feed }: RoomAnswerParts, toldUpTo: () => number): RoomWelcome {
  const running = hub.session;
  const sinceMs = monotonicMs(Math.max(0, (hub.sessionNowMs ?? 0) - drawnAtSchoolMs));
  const {
    welcome: greeting,
    fill,
    session,
  } = feed.welcome(running === null ? null : { sessionId: running.sessionId, haveToMs: sinceMs });
  return {
    protocolVersion,
    // A coach's, who may acknowledge; whatever else is asked from afar is refused.
    greeting: { ...greeting, role: 'coach', athleteIds: 'all', deviceId: null },
    fill: base64(liveFrame(fill.map(fillBlock))),
    messages: [session, feed.supervision(), feed.course(), feed.sensors()],
    whole: base64(feed.whole(() => true)),
    // Told last: everybody else is told what is new first.
    toldUpTo: toldUpTo(),
  };
}

const base64 = (bytes: Uint8Array): string => Buffer.from(bytes).toString('base64');

function carryOutFor({ hub, audit, clock, school }: RoomAnswerParts, body: Uint8Array): RoomDone {
  const asked = z.safeParse(roomDoSchema, parsed(body));
  if (!asked.success) return { refused: { code: 'badMessage', said: said('refusal.notUnderstood') } };
  const { by, request } = asked.data;
  const access: PageAccess = { role: 'coach', deviceId: null, deviceName: by, athleteIds: 'all' };
  const carried = carryOut(hub, request, access);
  if (!carried.ok) return { refused: carried.reason };
  audit.append(
    auditEntry(access, 'alarmsAcknowledged', clock, {
      athleteId: request.type === 'acknowledgeAlarms' ? request.athleteId : null,
      sessionId: hub.session?.sessionId ?? null,
      afar: { school, by },
    }),
  );
  return { refused: null };
}

function parsed(body: Uint8Array): unknown {
  try {
    return JSON.parse(Buffer.from(body).toString('utf8'));
  } catch {
    return undefined;
  }
}
