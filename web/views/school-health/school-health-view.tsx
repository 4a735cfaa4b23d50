// How a school does: whether the archive takes what comes, and a row for each hub. Asked anew every few seconds.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import * as z from 'zod/mini';
import {
  type SchoolHealthBody,
  type SchoolHubHealth,
  schoolHealthBodySchema,
} from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatBytes, formatClockTime, formatCount } from '../../state/format.ts';
import { AsideCopies } from './aside-copies.tsx';
import './school-health.css';

const askEveryMs = 5_000;
/** A hub says twice a second that it lives. */
const isNowMs = 5_000;

export function SchoolHealthView() {
  const { text, say, timers } = useApp();
  const words = text.schoolHealth;
  useDocumentTitle(words.title);
  const health = useSignal<SchoolHealthBody | null>(null);
  const ask = async (): Promise<void> => {
    try {
      const answer = await fetch('/api/school/health');
      const body = z.safeParse(schoolHealthBodySchema, await answer.json());
      if (body.success) health.value = body.data;
    } catch {
      // That the school is away is said by the page's frame.
    }
  };
  useEffect(() => {
    void ask();
    return timers.every(askEveryMs, () => void ask());
  }, []);
  const told = health.value;
  return (
    <article class="sheet">
      <a class="button button--quiet back-link" href="/rooms">
        {'\u2190'} {text.rooms.title}
      </a>
      <h1>{words.title}</h1>
      <p>{words.lead}</p>
      {told === null ? null : (
        <>
          <Whole told={told} />
          {told.fault === null ? null : <p class="notice notice--strong">{say(told.fault)}</p>}
          <Hubs hubs={told.hubs} />
          <AsideCopies />
        </>
      )}
      <div class="button-row">
        <button type="button" class="button" onClick={() => void ask()}>
          {words.again}
        </button>
      </div>
    </article>
  );
}

function Whole({ told }: { readonly told: SchoolHealthBody }) {
  const words = useApp().text.schoolHealth;
  const { stream, pendingCount, archiveBytes, diskFreeBytes } = told;
  return (
    <>
      <p role="status">
        <strong>{told.ok ? words.well : words.notWell}</strong>
      </p>
      <ul class="health-facts">
        {told.serverConnected ? null : <li>{words.serverAway}</li>}
        {told.archiveReached ? null : <li>{words.archiveAway}</li>}
        {stream === null || pendingCount === null ? null : (
          <li>
            {words.waiting(
              formatCount(pendingCount),
              formatBytes(stream.bytes),
              formatBytes(stream.mostBytes),
            )}
          </li>
        )}
        {archiveBytes === null ? null : <li>{words.archiveSize(formatBytes(archiveBytes))}</li>}
        {diskFreeBytes === null ? null : <li>{words.diskFree(formatBytes(diskFreeBytes))}</li>}
      </ul>
    </>
  );
}

function Hubs({ hubs }: { readonly hubs: readonly SchoolHubHealth[] }) {
  const words = useApp().text.schoolHealth;
  if (hubs.length === 0) return <p>{words.none}</p>;
  return (
    <>
      <h2>{words.table}</h2>
      <ScrollRegion label={words.table}>
        <table class="measures health-hubs">
          <caption class="visually-hidden">{words.table}</caption>
          <thead>
            <tr>
              <th scope="col">{words.hub}</th>
              <th scope="col">{words.heard}</th>
              <th scope="col">{words.kept}</th>
              <th scope="col">{words.inWaiting}</th>
              <th scope="col">{words.putAside}</th>
            </tr>
          </thead>
          <tbody>
            {hubs.map((hub) => (
              <HubRow key={hub.hub} hub={hub} />
            ))}
          </tbody>
        </table>
      </ScrollRegion>
      <p class="hint">{words.putAsideHint}</p>
    </>
  );
}

function HubRow({ hub }: { readonly hub: SchoolHubHealth }) {
  const words = useApp().text.schoolHealth;
  const nowMs = Date.now();
  const isNow = hub.heardAtWallMs !== null && !hub.isSilent && nowMs - hub.heardAtWallMs < isNowMs;
  const heard =
    hub.heardAtWallMs === null ? words.never : isNow ? words.now : formatClockTime(hub.heardAtWallMs, nowMs);
  const countOf = (count: number | null): string => (count === null ? words.unknown : formatCount(count));
  return (
    <tr>
      <th scope="row">
        <bdi>{hub.name}</bdi>
        {hub.isRecording ? <span class="tag">{words.inSession}</span> : null}
      </th>
      <td data-label={words.heard}>{heard}</td>
      <td data-label={words.kept}>
        {hub.keptAtWallMs === null ? words.unknown : formatClockTime(hub.keptAtWallMs, nowMs)}
      </td>
      <td data-label={words.inWaiting}>{countOf(hub.waitingCount)}</td>
      <td data-label={words.putAside}>{countOf(hub.refusedCount)}</td>
    </tr>
  );
}
