// Whether a message server keeps a school's hubs apart: found out by trying, at each connection.

import type { NatsConnection } from '@nats-io/transport-node';
import { said } from '../../../shared/said.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import { HubError } from '../../base/hub-error.ts';
import { hostsBeyondLoopback, type NatsAccess } from './connect.ts';

/** Whoever reaches a server without a login reads everybody's readings and may write as any hub. Throws a HubError. */
export function checkLogin({ info }: NatsConnection, access: NatsAccess): void {
  const [host] = hostsBeyondLoopback(access);
  if (host !== undefined && info?.auth_required !== true)
    throw new HubError('server.failed', said('school.noLogin', { host }));
}

/**
 * Throws a HubError where a hub may hear what is not its own, or write it. Nothing that it tries is read by anybody. A server
 * of this computer alone that asks for no login keeps nobody apart, and is let pass.
 */
export async function checkRights(connection: NatsConnection, school: string): Promise<void> {
  if (connection.info?.auth_required !== true) return;
  const tried = [subjects.allOf(school), subjects.everyLive(school), subjects.forbidden(school), '>'];
  const refused = new Set<string>();
  const open = tried.map((subject) =>
    connection.subscribe(subject, {
      callback: (error) => {
        if (error !== null) refused.add(subject);
      },
    }),
  );
  let mayWrite = true;
  const errors = connection.status()[Symbol.asyncIterator]();
  const watching = (async () => {
    for (let next = await errors.next(); next.done !== true; next = await errors.next())
      if (next.value.type === 'error' && /Publish/i.test(next.value.error.message)) mayWrite = false;
  })();
  connection.publish(subjects.forbidden(school));
  // A server answers in order: what it refuses it has refused before it answers the ping.
  await connection.flush();
  await connection.flush();
  for (const each of open) if (!each.isClosed()) each.unsubscribe();
  void watching.catch(() => undefined);
  void errors.return?.();
  if (mayWrite || refused.size < tried.length)
    throw new HubError('server.failed', said('school.noRights', { school }));
}
