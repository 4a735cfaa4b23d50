// Profiles of sensors with a protocol of their own: those in the data folder, and one in work.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import exampleCapture from '../../../fixtures/profiles/lantern-clip.capture.txt?raw';
import exampleProfile from '../../../fixtures/profiles/lantern-clip.json?raw';
import type { ProfilesBody } from '../../../shared/sensor-profiles.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { HelpLink } from '../../components/help-link.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { FileButton } from './file-button.tsx';
import { ProfileEditor } from './profile-editor.tsx';
import { freshProfile } from './profile-text.ts';
import './sensor-profiles.css';

interface InWork {
  /** Another number is another piece of work. */
  readonly number: number;
  readonly file: string | null;
  readonly text: string;
  readonly capture: string | null;
}

export function ProfilesView() {
  const { text, http, hub } = useApp();
  const words = text.profiles;
  useDocumentTitle(words.title);
  const body = useSignal<ProfilesBody | null>(null);
  const problem = useSignal<string | null>(null);
  const said = useSignal<string | null>(null);
  const inWork = useSignal<InWork | null>(null);
  const ask = useInOrder();
  const load = async (): Promise<boolean> => {
    const isNews = ask();
    const answer = await http.profiles();
    if (isNews()) problem.value = answer.ok ? null : answer.reason;
    if (isNews() && answer.ok) body.value = answer.value;
    return answer.ok && answer.value.waits;
  };
  const live = hub.link.value === 'live';
  useEffect(() => {
    if (live) void load();
  }, [live]);
  const work = (file: string | null, content: string, capture: string | null = null): void => {
    inWork.value = { number: (inWork.value?.number ?? 0) + 1, file, text: content, capture };
    said.value = null;
  };
  const remove = async (file: string, content: string): Promise<void> => {
    const answer = await http.removeProfile(file);
    await load();
    problem.value = answer.ok ? null : answer.reason;
    if (!answer.ok) return;
    work(null, content);
    said.value = words.removed(file);
  };
  const now = inWork.value;
  return (
    <article class="sheet sensor-profiles">
      <a class="button button--quiet back-link" href="/devices">
        {'\u2190'} {text.devices.title}
      </a>
      <h1>{words.title}</h1>
      <p>{words.lead}</p>
      <p class="notice">{words.caution}</p>
      <HelpLink chapter="sensors" section="profiles" label={words.guide} />
      <ProblemNotice problem={problem.value} />
      {said.value === null ? null : <p role="status">{said.value}</p>}
      {body.value?.waits === true ? <p class="notice">{words.waits}</p> : null}
      <section class="step">
        <SavedProfiles body={body.value} onOpen={work} onRemove={remove} />
        <div class="profile-buttons">
          <button type="button" class="button" onClick={() => work(null, freshProfile('', '', ''))}>
            {words.fresh}
          </button>
          <FileButton label={words.importFile} accept=".json" onText={(content) => work(null, content)} />
          <button type="button" class="button" onClick={() => work(null, exampleProfile, exampleCapture)}>
            {words.learn}
          </button>
        </div>
      </section>
      {now === null ? null : (
        <ProfileEditor
          key={now.number}
          file={now.file}
          startText={now.text}
          exampleCapture={now.capture}
          hasBench={body.value?.hasBench ?? false}
          onSaved={load}
        />
      )}
    </article>
  );
}

interface SavedProfilesProps {
  readonly body: ProfilesBody | null;
  readonly onOpen: (file: string, content: string) => void;
  readonly onRemove: (file: string, content: string) => Promise<void>;
}

function SavedProfiles({ body, onOpen, onRemove }: SavedProfilesProps) {
  const { text } = useApp();
  const words = text.profiles;
  if (body === null) return null;
  if (body.profiles.length === 0) return <p class="hint">{words.none}</p>;
  return (
    <ul class="device-list">
      {body.profiles.map(({ file, text: content, isGood }) => (
        <li key={file}>
          <span class="device-what">
            <strong>{file}</strong>
            {isGood ? null : <span>{words.wrongFile}</span>}
          </span>
          <button type="button" class="button" onClick={() => onOpen(file, content)}>
            {words.open}
          </button>
          <button type="button" class="button button--quiet" onClick={() => void onRemove(file, content)}>
            {words.remove}
          </button>
        </li>
      ))}
    </ul>
  );
}
