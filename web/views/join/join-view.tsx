// Joining from another device: a code typed, or carried by the QR link in the fragment, and a name for the device.

import { useSignal } from '@preact/signals';
import { useLayoutEffect } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { ownCodeOf, takeOwnCode } from '../../app/own-person.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { RightHub } from './right-hub.tsx';
import './join.css';

/** The code of the link, which is then taken out of the address bar and the history. */
function takeCodeFromAddress(): string {
  const code = decodeURIComponentOrNothing(location.hash.slice(1));
  if (location.hash !== '') history.replaceState(history.state, '', location.pathname);
  return code;
}

function decodeURIComponentOrNothing(text: string): string {
  try {
    return decodeURIComponent(text).slice(0, 40);
  } catch {
    return '';
  }
}

/** The hub speaks without TLS to its own machine only: there nobody joins by a code. */
export function JoinView() {
  return location.protocol === 'http:' ? <OwnMachineView /> : <JoinByCode />;
}

function OwnMachineView() {
  const { text, hub, http } = useApp();
  const words = text.ownMachine;
  useDocumentTitle(words.title);
  const link = useSignal('');
  const problem = useSignal<string | null>(null);
  const enter = async (code: string | undefined) => {
    if (code === undefined) {
      problem.value = words.notALink;
      return;
    }
    const answer = await http.enterAsOwnPerson(code);
    if (answer.ok) location.reload();
    else problem.value = answer.reason;
  };
  useLayoutEffect(() => {
    // A link opened in a page that is here already changes the fragment alone.
    const take = () => {
      const code = takeOwnCode();
      if (code !== undefined) void enter(code);
    };
    addEventListener('hashchange', take);
    return () => removeEventListener('hashchange', take);
  }, []);
  if (hub.link.value === 'live') return <Joined />;
  return (
    <article class="sheet join">
      <h1>{words.title}</h1>
      <p>{words.explain}</p>
      <form
        class="join-form"
        onSubmit={(event) => {
          event.preventDefault();
          void enter(ownCodeOf(link.value));
        }}
      >
        <label class="field">
          <span>{words.link}</span>
          <input
            type="text"
            maxLength={300}
            value={link.value}
            autocomplete="off"
            spellcheck={false}
            aria-invalid={problem.value !== null}
            aria-describedby={problem.value === null ? undefined : 'join-problem'}
            onInput={(event) => (link.value = event.currentTarget.value)}
          />
        </label>
        <div aria-live="assertive" class="join-problem">
          {problem.value === null ? null : (
            <p class="problem" id="join-problem">
              {problem.value}
            </p>
          )}
        </div>
        <button type="submit" class="button button--primary button--start">
          {words.open}
        </button>
      </form>
      <p class="hint">{words.newLink}</p>
    </article>
  );
}

function Joined() {
  const { text, hub } = useApp();
  const words = text.join;
  return (
    <section class="sheet sheet--centred">
      <h1 class="quiet-title">{words.joined(text.role[hub.role.value])}</h1>
      <a class="button button--primary" href="/wall">
        {words.toWall}
      </a>
    </section>
  );
}

function JoinByCode() {
  const { text, hub, http } = useApp();
  const words = text.join;
  useDocumentTitle(words.title);
  const code = useSignal('');
  const name = useSignal('');
  const problem = useSignal<string | null>(null);
  const joining = useSignal(false);
  useLayoutEffect(() => {
    // A link opened in a page that is here already changes the fragment alone.
    const take = () => {
      const fromAddress = takeCodeFromAddress();
      if (fromAddress !== '') code.value = fromAddress;
    };
    take();
    addEventListener('hashchange', take);
    return () => removeEventListener('hashchange', take);
  }, []);

  const join = async () => {
    if (code.value.trim() === '') {
      problem.value = words.codeNeeded;
      return;
    }
    joining.value = true;
    problem.value = null;
    const answer = await http.join(code.value, name.value);
    joining.value = false;
    if (!answer.ok) {
      problem.value = answer.reason;
      return;
    }
    // Opened anew, so that the socket begins with the new cookie.
    location.assign(
      answer.value.role === 'athlete' ? '/live' : answer.value.role === 'coach' ? '/' : '/wall',
    );
  };

  if (hub.link.value === 'live') {
    return <Joined />;
  }
  return (
    <article class="sheet join">
      <h1>{words.title}</h1>
      <p>{words.explain}</p>
      <form
        class="join-form"
        onSubmit={(event) => {
          event.preventDefault();
          void join();
        }}
      >
        <label class="field">
          <span>{words.code}</span>
          <input
            type="text"
            class="join-code-field"
            maxLength={40}
            value={code.value}
            autocomplete="off"
            autocapitalize="characters"
            spellcheck={false}
            aria-invalid={problem.value !== null}
            aria-describedby={problem.value === null ? undefined : 'join-problem'}
            onInput={(event) => (code.value = event.currentTarget.value)}
          />
        </label>
        <label class="field">
          <span>{words.deviceName}</span>
          <input
            type="text"
            maxLength={40}
            value={name.value}
            autocomplete="off"
            placeholder={words.deviceNameExample}
            onInput={(event) => (name.value = event.currentTarget.value)}
          />
        </label>
        <div aria-live="assertive" class="join-problem">
          {problem.value === null ? null : (
            <p class="problem" id="join-problem">
              {problem.value}
            </p>
          )}
        </div>
        <button type="submit" class="button button--primary button--start" disabled={joining.value}>
          {joining.value ? words.joining : words.join}
        </button>
      </form>
      <RightHub />
    </article>
  );
}
