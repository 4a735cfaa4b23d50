// How this hub stands with its school: what does not reach it, since when, and what to do. Nothing where it sends to none.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { SchoolLinkBody } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { formatWallTime, isolated } from '../../state/format.ts';

const lookEveryMs = 5_000;

export function SchoolLinkState() {
  const { text, hub, http, say, timers } = useApp();
  const words = text.schoolLink;
  const school = useSignal<SchoolLinkBody['school']>(null);
  const live = hub.link.value === 'live';
  useEffect(() => {
    if (!live) return undefined;
    const look = async () => {
      const answer = await http.schoolLink();
      if (answer.ok) school.value = answer.value.school;
    };
    void look();
    return timers.every(lookEveryMs, () => void look());
  }, [live]);
  const told = school.value;
  if (told === null) return null;
  const { link, fault, setAside, notices, waitingCount, keptAtWallMs, isCaughtUp } = told;
  const notSent = [...(fault === null ? [] : [fault]), ...setAside];
  return (
    <section class="step">
      <h2>{words.title}</h2>
      <p>
        {words.as(isolated(told.hub), isolated(told.schoolName))} {words.link[link]}
      </p>
      {notSent.map(({ why, sinceWallMs }) => (
        <p key={say(why)} class="notice notice--strong">
          {words.since(formatWallTime(sinceWallMs))} {say(why)}
        </p>
      ))}
      {notices.map((notice) => (
        <p key={say(notice)} class="notice">
          {say(notice)}
        </p>
      ))}
      <p class="hint">
        {link === 'connected' && isCaughtUp ? words.caughtUp : words.waiting(waitingCount)}{' '}
        {keptAtWallMs === null ? null : words.keptAt(formatWallTime(keptAtWallMs))}
      </p>
    </section>
  );
}
