// What the computer under the hub offers: every check good or with what to do, looked at when the page opens and again when asked.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { ComputerChecksBody, FindingView } from '../../../shared/computer-checks.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatWallTime } from '../../state/format.ts';
import './computer.css';

export function ComputerView() {
  const { text, http, hub } = useApp();
  const words = text.computer;
  useDocumentTitle(words.title);
  const checked = useSignal<ComputerChecksBody | null>(null);
  const problem = useSignal<string | null>(null);
  const checking = useSignal(false);
  const check = async () => {
    checking.value = true;
    const answer = await http.checkComputer();
    checking.value = false;
    problem.value = answer.ok ? null : answer.reason;
    if (answer.ok) checked.value = answer.value;
  };
  const live = hub.link.value === 'live';
  useEffect(() => {
    if (live) void check();
  }, [live]);
  const found = checked.value;
  return (
    <article class="sheet">
      <a class="button button--quiet back-link" href="/devices">
        {'\u2190'} {text.devices.title}
      </a>
      <h1>{words.title}</h1>
      <p>{words.lead}</p>
      <ProblemNotice problem={problem.value} />
      <div class="computer-head">
        <p role="status">
          {checking.value
            ? words.checking
            : found === null
              ? words.notYet
              : `${words.summary(...countsOf(found.findings))} ${words.at(formatWallTime(found.checkedWallAtMs))}`}
        </p>
        <button type="button" class="button" disabled={checking.value || !live} onClick={() => void check()}>
          {words.again}
        </button>
      </div>
      {found === null ? null : <Findings findings={found.findings} />}
      <p class="hint">{words.sameAs}</p>
    </article>
  );
}

/** How many ask to be looked at, and how many are at fault. */
const countsOf = (findings: readonly FindingView[]): [number, number] => [
  findings.filter(({ state }) => state === 'warning').length,
  findings.filter(({ state }) => state === 'fault').length,
];

const urgency: Readonly<Record<FindingView['state'], number>> = { fault: 0, warning: 1, good: 2 };

/** What there is to do comes first; else in the hub's order. */
function Findings({ findings }: { readonly findings: readonly FindingView[] }) {
  const { say, text } = useApp();
  const ordered = findings.toSorted((one, other) => urgency[one.state] - urgency[other.state]);
  return (
    <ul class="computer-findings">
      {ordered.map(({ check, state, said }) => (
        <li key={check} class={`computer-finding computer-finding--${state}`}>
          <span class={state === 'good' ? 'tag' : 'tag tag--strong'}>{text.computer.state[state]}</span>
          <strong>{say({ code: `machine.${check}`, params: {} })}</strong>
          <span class="computer-said">{say(said)}</span>
        </li>
      ))}
    </ul>
  );
}
