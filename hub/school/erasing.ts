// Erases people as somebody at the school or at a hub asks: the archive at once, hubs as soon as they are there, and what the
// message server still holds as soon as it is in the archive.

import type { NatsConnection } from '@nats-io/transport-node';
import type { ErasedAnswer, ErasedByHub } from '../../shared/school/questions.ts';
import { subjects } from '../../shared/school/subjects.ts';
import type { Result } from '../../src/result.ts';
import type { HubLog } from '../base/log.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { DeviceRegister } from '../devices/join/device-register.ts';
import type { PageAccess } from '../server/access.ts';
import { auditEntry } from '../server/audit.ts';
import type { Archive } from './archive/archive.ts';
import {
  answerErased,
  type ErasureDone,
  type ErasureRefusal,
  eraseCoach,
  erasePerson,
  followStream,
  type StreamEnd,
} from './archive/erasures.ts';

const followEveryMs = 2_000;

export interface ErasingParts {
  readonly archive: Archive;
  readonly connection: Pick<NatsConnection, 'publish'>;
  readonly school: string;
  readonly stream: StreamEnd;
  readonly clock: Clock;
  readonly log: HubLog;
}

/** What of a person the pages of a school keep beside the archive. */
export interface PagesOfSchool {
  readonly audit: Pick<AuditLog, 'append' | 'forgetAthlete'>;
  readonly devices: Pick<DeviceRegister, 'forgetAthlete'>;
  /** What was worked out of a recording. */
  readonly forget: (sessionId: string) => void;
  readonly peopleChanged: () => Promise<void>;
}

export class Erasing {
  readonly #parts: ErasingParts;
  #pages: PagesOfSchool | undefined;
  #mayBeLeft = true;
  #isFollowing = false;
  #stop: () => void = () => undefined;

  constructor(parts: ErasingParts) {
    this.#parts = parts;
  }

  open(): void {
    this.#stop = this.#parts.clock.every(followEveryMs, () => void this.#follow());
  }

  /** Called once there are pages. */
  serve(pages: PagesOfSchool): void {
    this.#pages = pages;
  }

  close(): void {
    this.#stop();
  }

  /** A person, or by name whoever led. */
  async erase(
    whom: { readonly personId: string } | { readonly coach: string },
    access: PageAccess,
  ): Promise<Result<ErasureDone, ErasureRefusal>> {
    const { archive, clock } = this.#parts;
    const isCoach = 'coach' in whom;
    const erased = isCoach
      ? await eraseCoach(archive, whom.coach, access.deviceName)
      : await erasePerson(archive, whom.personId, access.deviceName);
    if (!erased.ok) return erased;
    await this.#after(erased.value);
    const action = isCoach ? 'leaderErased' : 'athleteErased';
    this.#pages?.audit.append(auditEntry(access, action, clock, { athleteId: 'erased' }));
    return erased;
  }

  async answer(hub: string, said: ErasedByHub): Promise<ErasedAnswer> {
    const { answer, done } = await answerErased(this.#parts.archive, hub, said);
    for (const each of done) {
      await this.#after(each);
      const { clock } = this.#parts;
      const access: PageAccess = {
        role: 'coach',
        deviceId: `hub-${hub}`,
        deviceName: hub,
        athleteIds: 'all',
      };
      this.#pages?.audit.append(auditEntry(access, 'athleteErased', clock, { athleteId: 'erased' }));
    }
    return answer;
  }

  async #after({ sessionIds, personIds, names, hubs }: ErasureDone): Promise<void> {
    const { connection, school } = this.#parts;
    this.#mayBeLeft = true;
    for (const hub of hubs) connection.publish(subjects.toErase(school, hub));
    const pages = this.#pages;
    if (pages === undefined) return;
    for (const sessionId of sessionIds) pages.forget(sessionId);
    for (const personId of personIds) {
      await pages.audit.forgetAthlete(personId, names);
      await pages.devices.forgetAthlete(personId);
    }
    await pages.peopleChanged();
  }

  async #follow(): Promise<void> {
    if (!this.#mayBeLeft || this.#isFollowing) return;
    this.#isFollowing = true;
    try {
      this.#mayBeLeft = false;
      if (await followStream(this.#parts.archive, this.#parts.stream)) this.#mayBeLeft = true;
    } catch (error) {
      this.#mayBeLeft = true;
      this.#parts.log.error('erasing', error);
    } finally {
      this.#isFollowing = false;
    }
  }
}
