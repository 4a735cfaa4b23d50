// A hub with --school: who it is there, what it sends, and what a person is told of it.

import { hostname } from 'node:os';
import { isSameSaid, type Said } from '../../../shared/said.ts';
import { schoolNameSchema } from '../../../shared/school/subjects.ts';
import type { Result } from '../../../src/result.ts';
import type { Config } from '../../base/config.ts';
import { hubVersion } from '../../base/hub-version.ts';
import type { HubLog } from '../../base/log.ts';
import type { AuditLog } from '../../base/ports/audit-log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import type { Refusal } from '../../base/refusal.ts';
import type { Hub } from '../../live/hub.ts';
import type { PageFeed } from '../../server/page-feed.ts';
import { checkAccess } from '../nats/connect.ts';
import type { Eraser } from './erased-people.ts';
import { HubPublisher, type SchoolSettings } from './hub-publisher.ts';
import type { SchoolState } from './publisher-messages.ts';
import { answerRoom } from './room-answers.ts';

export interface SendingParts {
  readonly config: Config;
  readonly store: HubStore;
  readonly hub: Hub;
  readonly feed: PageFeed;
  readonly audit: AuditLog;
  readonly log: HubLog;
  readonly clock: Clock;
  readonly eraseForSchool: (athleteId: string, by: string) => Promise<Result<true, Refusal>>;
}

/** Throws a HubError for an address that would send readings in clear over a network. */
export function sendToSchool(parts: SendingParts): HubPublisher {
  const { config, store, hub, feed, audit, log, clock } = parts;
  const settings = settingsOf(config);
  checkAccess(settings.access);
  return new HubPublisher({
    settings,
    dataFolder: config.data,
    store,
    feed,
    clock,
    log,
    hubVersion,
    answer: (question, body) => answerRoom({ hub, feed, audit, clock }, question, body),
    hear: noticesOf(hub),
    eraser: eraserOf(hub, (athleteId) => parts.eraseForSchool(athleteId, settings.school)),
  });
}

export const eraserOf = (hub: Hub, erase: Eraser['erase']): Eraser => ({
  isBusy: () => hub.session !== null,
  onRecord: () => hub.athletesOnRecord(),
  erase,
  beforeErasing: (prepare) => hub.beforeErasing(prepare),
});

function settingsOf(config: Config): SchoolSettings {
  const name = config['school-hub'] ?? nameOfComputer();
  return {
    access: {
      url: config.school ?? '',
      user: config['school-user'],
      password: config['school-password'],
      authorityFile: config['school-authority'],
    },
    school: config['school-name'],
    hub: name,
    room: config['school-room'] ?? name,
  };
}

function nameOfComputer(): string {
  const name = hostname()
    .toLowerCase()
    .replace(/\..*$/, '')
    .replaceAll(/[^a-z0-9-]+/g, '-')
    .replace(/^-+/, '')
    .slice(0, 40);
  return schoolNameSchema.safeParse(name).success ? name : 'hub';
}

/** What is wrong with the school stands as a notice while it is: no alarm waits for it, so it is none. */
function noticesOf(hub: Hub): (state: SchoolState) => void {
  let told: readonly Said[] = [];
  return ({ fault, notice }) => {
    const now = [fault, notice].filter((each) => each !== null);
    for (const each of told) if (!now.some((one) => isSameSaid(one, each))) hub.notices.withdraw(each);
    for (const each of now) if (!told.some((one) => isSameSaid(one, each))) hub.notices.add(each);
    told = now;
  };
}
