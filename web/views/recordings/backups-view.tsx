// Backups: one to take away, those made by the clock with their age, and a file to be put in the place of what is there.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { BackupsBody } from '../../../shared/backups.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { HelpLink } from '../../components/help-link.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatWallTime } from '../../state/format.ts';
import { RestoreBackup } from './restore-backup.tsx';
import { useBackUp } from './use-back-up.ts';
import './recordings.css';

const hourMs = 3_600_000;

export function BackupsView() {
  const { text, http, hub } = useApp();
  const words = text.backups;
  useDocumentTitle(words.title);
  const backups = useSignal<BackupsBody | null>(null);
  const problem = useSignal<string | null>(null);
  const { backingUp, backUp } = useBackUp((reason) => {
    problem.value = reason;
  });
  const load = async () => {
    const answer = await http.backups();
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (answer.ok) backups.value = answer.value;
  };
  const live = hub.link.value === 'live';
  useEffect(() => void load(), [live]);
  return (
    <article class="sheet">
      <a class="button button--quiet back-link" href="/recordings">
        {'\u2190'} {text.bin.back}
      </a>
      <h1>{words.title}</h1>
      <p>{words.lead}</p>
      <HelpLink chapter="backups" label={text.help.toBackups} />
      <ProblemNotice problem={problem.value} onAgain={() => void load()} />
      <section class="step">
        <h2>{words.takeAway}</h2>
        <p>{words.takeAwayText}</p>
        <button type="button" class="button" disabled={backingUp.value} onClick={() => void backUp()}>
          {backingUp.value ? text.import.backingUp : words.makeOne}
        </button>
      </section>
      {backups.value === null ? null : (
        <>
          <Scheduled backups={backups.value} onMade={(made) => (backups.value = made)} />
          <section class="step">
            <h2>{words.restore}</h2>
            {backups.value.mayRestore ? <RestoreBackup /> : <p>{words.notHere}</p>}
          </section>
        </>
      )}
    </article>
  );
}

function Scheduled(props: {
  readonly backups: BackupsBody;
  readonly onMade: (backups: BackupsBody) => void;
}) {
  const { text, say, http } = useApp();
  const words = text.backups;
  const making = useSignal(false);
  const problem = useSignal<string | null>(null);
  const { scheduled } = props.backups;
  const make = async () => {
    making.value = true;
    const answer = await http.makeScheduledBackup();
    making.value = false;
    problem.value = answer.ok ? null : answer.reason;
    if (answer.ok) props.onMade(answer.value);
  };
  if (scheduled === null)
    return (
      <section class="step">
        <h2>{words.byClock}</h2>
        <p>{words.noSchedule}</p>
        <pre class="backup-settings">
          <code>{words.settings}</code>
        </pre>
      </section>
    );
  const [newest] = scheduled.kept;
  const ageHours =
    newest === undefined ? null : Math.max(0, Math.floor((Date.now() - newest.madeWallAtMs) / hourMs));
  return (
    <section class="step">
      <h2>{words.byClock}</h2>
      <p>{words.schedule(scheduled.everyHours, scheduled.keep, scheduled.folder)}</p>
      <p class={ageHours === null || ageHours > 2 * scheduled.everyHours ? 'problem' : ''}>
        {ageHours === null ? words.noneYet : words.age(ageHours)}
      </p>
      <ProblemNotice
        problem={
          problem.value ?? (scheduled.problem === null ? null : words.lastFailed(say(scheduled.problem)))
        }
      />
      <ul class="plain-list">
        {scheduled.kept.map(({ name, madeWallAtMs, bytes }) => (
          <li key={name}>
            {formatWallTime(madeWallAtMs)} {'\u00b7'} {Math.max(1, Math.round(bytes / 2 ** 20))} MB
          </li>
        ))}
      </ul>
      <button type="button" class="button" disabled={making.value} onClick={() => void make()}>
        {making.value ? text.import.backingUp : words.makeNow}
      </button>
    </section>
  );
}
