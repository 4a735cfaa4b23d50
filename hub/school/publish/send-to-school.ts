// A hub with --school: who it is there, what it sends, and what a person is told of it.

import { hostname } from 'node:os';
import { isSameSaid, type Said, said } from '../../../shared/said.ts';
import type { SchoolLink, SchoolLinkBody } from '../../../shared/school/pages.ts';
import { schoolNameSchema } from '../../../shared/school/subjects.ts';
import type { Result } from '../../../src/result.ts';
import type { Config } from '../../base/config.ts';
import { HubError } from '../../base/hub-error.ts';
import { hubVersion } from '../../base/hub-version.ts';
import type { HubLog } from '../../base/log.ts';
import type { AuditLog } from '../../base/ports/audit-log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import type { Refusal } from '../../base/refusal.ts';
import type { Hub } from '../../live/hub.ts';
import type { PageFeed } from '../../server/page-feed.ts';
import { checkAccess } from '../nats/connect.ts';
import { ownerName } from '../nats/server-config.ts';
import type { Eraser } from './erased-people.ts';
import { hubIdIn } from './hub-id.ts';
import { HubPublisher, type SchoolSettings } from './hub-publisher.ts';
import { linkAtFirst } from './link-at-first.ts';
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

/** What goes to a school, and how it stands with it. */
export interface SendingToSchool {
  readonly link: () => NonNullable<SchoolLinkBody['school']>;
  close(): Promise<void>;
}

/** Throws a HubError for an address that would send readings in clear over a network. */
export function sendToSchool(parts: SendingParts): SendingToSchool {
  const { config, store, hub, feed, audit, log, clock } = parts;
  const settings = settingsOf(config);
  checkAccess(settings.access);
  const tellNotices = noticesOf(hub);
  let link = linkAtFirst;
  const publisher = new HubPublisher({
    settings,
    dataFolder: config.data,
    store,
    feed,
    clock,
    log,
    hubVersion,
    answer: (question, body, toldUpTo) =>
      answerRoom({ hub, feed, audit, clock, school: settings.school }, question, body, toldUpTo),
    hear: (next) => {
      link = next;
      tellNotices(next);
    },
    eraser: eraserOf(hub, (athleteId) => parts.eraseForSchool(athleteId, settings.school)),
  });
  return {
    link: () => ({ ...link, schoolName: settings.school, hub: settings.hub }),
    close: () => publisher.close(),
  };
}

export const eraserOf = (hub: Hub, erase: Eraser['erase']): Eraser => ({
  isBusy: () => hub.session !== null,
  onRecord: () => hub.athletesOnRecord(),
  erase,
  beforeErasing: (prepare) => hub.beforeErasing(prepare),
});
function settingsOf(config: Config): SchoolSettings {
  const name = config['school-hub'] ?? nameOfComputer();
  if (name === ownerName) throw new HubError('config.badValue', said('school.badName', { name }));
  return {
    access: {
      url: config.school ?? '',
      user: config['school-user'],
      password: config['school-password'],
      authorityFile: config['school-authority'],
    },
    school: config['school-name'],
    hub: name,
    hubId: hubIdIn(config.data),
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
function noticesOf(hub: Hub): (state: SchoolLink) => void {
  let told: readonly Said[] = [];
  return ({ fault, setAside, notices }) => {
    const now = [...(fault === null ? [] : [fault.why]), ...setAside.map(({ why }) => why), ...notices];
    for (const each of told) if (!now.some((one) => isSameSaid(one, each))) hub.notices.withdraw(each);
    for (const each of now) if (!told.some((one) => isSameSaid(one, each))) hub.notices.add(each);
    told = now;
  };
}
