// Erasing somebody with everything of theirs at this hub: recordings, entries, the bin, their devices, and their id in the
// audit log.

import type { AuditAction } from '../../shared/audit.ts';
import { foldedName } from '../../shared/name-text.ts';
import type { Result } from '../../src/result.ts';
import type { Refusal } from '../base/refusal.ts';
import { namesOf } from '../recorder/led-by.ts';
import type { PageAccess } from './access.ts';
import { auditEntry } from './audit.ts';
import type { RouteContext } from './route.ts';

export type ErasingContext = Pick<
  RouteContext,
  'hub' | 'store' | 'recordings' | 'devices' | 'audit' | 'clock'
>;

/** Between sessions only. `action`: as what it stands in the audit log. */
export async function erasePerson(
  { hub, store, recordings, devices, audit, clock }: ErasingContext,
  athleteId: string,
  access: PageAccess,
  action: AuditAction = 'athleteErased',
): Promise<Result<true, Refusal>> {
  const listed = await store.listSessions();
  const names = await namesOf(store, athleteId);
  const isLeader = listed.some(({ session }) =>
    session.leaders.some(({ leaderId }) => leaderId === athleteId),
  );
  const theirs = listed
    .filter(
      ({ session }) =>
        session.athleteIds.includes(athleteId) ||
        session.leaders.some(({ name }) => names.has(foldedName(name))),
    )
    .map(({ session }) => session.sessionId);
  const erased = await hub.eraseAthlete(athleteId);
  if (!erased.ok) return erased;
  for (const sessionId of theirs) recordings.forget(sessionId);
  await audit.forgetAthlete(athleteId, names);
  audit.append(
    auditEntry(access, isLeader && action === 'athleteErased' ? 'leaderErased' : action, clock, {
      athleteId: 'erased',
    }),
  );
  return devices.forgetAthlete(athleteId);
}
