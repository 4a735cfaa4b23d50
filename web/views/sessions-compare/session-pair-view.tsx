// One athlete's session against another of theirs, row by row: the newest beside the last by the same plan, or any other.

import { useSignal } from '@preact/signals';
import { trendMeasures } from '../../../src/sessions/session-summary.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { detailsInShort } from '../../state/details-words.ts';
import { formatWallTime } from '../../state/format.ts';
import {
  eightWeeksBefore,
  lastOfSamePlan,
  type PairedRow,
  pairedRows,
  sharedPlan,
  valueAt,
} from '../../state/session-pair.ts';
import { hasHolds, type PastSession } from '../weeks/past-sessions.ts';
import { formatValue, type TrendUnit } from '../weeks/trend-words.ts';
import { useHistory } from '../weeks/use-history.ts';
import './sessions-compare.css';

export function SessionPairView({ athleteId }: { readonly athleteId: string }) {
  const { text } = useApp();
  const words = text.weeksMore.pair;
  useDocumentTitle(words.title);
  const { history, problem } = useHistory(athleteId);
  const sessions = history.value?.sessions.filter(hasHolds) ?? null;
  return (
    <article class="sheet sheet--wide session-pair">
      <a class="button button--quiet back-link" href={`/weeks/${athleteId}`}>
        {'\u2190'} {text.history.compare.backToWeeks}
      </a>
      <h1>{words.title}</h1>
      <p class="hint">{words.lead}</p>
      <ProblemNotice problem={problem.value} />
      {sessions === null ? (
        problem.value === null ? (
          <p class="hint">{text.recordings.loading}</p>
        ) : null
      ) : sessions.length < 2 ? (
        <p class="empty">{words.few}</p>
      ) : (
        <Pair sessions={sessions} />
      )}
    </article>
  );
}

/** `sessions` oldest first, two at least. */
function Pair({ sessions }: { readonly sessions: readonly PastSession[] }) {
  const { text } = useApp();
  const words = text.weeksMore.pair;
  const newest = sessions.at(-1)!;
  const oneId = useSignal(newest.sessionId);
  const one = sessions.find(({ sessionId }) => sessionId === oneId.value) ?? newest;
  const others = sessions.filter((each) => each !== one);
  const samePlan = lastOfSamePlan(sessions, one);
  const eightWeeks = eightWeeksBefore(others, one);
  const before = others.findLast(({ startedWallAtMs }) => startedWallAtMs < one.startedWallAtMs);
  const otherId = useSignal('');
  const other =
    others.find(({ sessionId }) => sessionId === otherId.value) ?? samePlan ?? before ?? others.at(-1)!;
  const choices = (of: readonly PastSession[]): [string, string][] =>
    of.toReversed().map((session) => [session.sessionId, nameOf(session)]);
  return (
    <>
      <div class="session-pair-choice">
        <ChoiceField
          label={words.one}
          value={one.sessionId}
          choices={choices(sessions)}
          onChange={(sessionId) => {
            oneId.value = sessionId;
            otherId.value = '';
          }}
        />
        <ChoiceField
          label={words.other}
          value={other.sessionId}
          choices={choices(others)}
          onChange={(sessionId) => (otherId.value = sessionId)}
        />
      </div>
      <p class="button-row">
        <OtherButton
          label={words.samePlan}
          whyNot={words.noSamePlan}
          session={samePlan}
          isShown={other === samePlan}
          onChoose={(sessionId) => (otherId.value = sessionId)}
        />
        <OtherButton
          label={words.eightWeeks}
          whyNot={words.noEightWeeks}
          session={eightWeeks}
          isShown={other === eightWeeks}
          onChoose={(sessionId) => (otherId.value = sessionId)}
        />
      </p>
      {one.simulated || other.simulated ? (
        <p class="notice notice--strong">{text.history.weeks.simulated}</p>
      ) : null}
      <PairTable one={one} other={other} />
      <p class="hint">{words.caution}</p>
    </>
  );
}

const nameOf = ({ startedWallAtMs, title, plans }: PastSession): string =>
  [formatWallTime(startedWallAtMs), plans[0] ?? title].filter((part) => part !== '').join(' \u00b7 ');

interface OtherButtonProps {
  readonly label: string;
  readonly whyNot: string;
  readonly session: PastSession | undefined;
  readonly isShown: boolean;
  readonly onChoose: (sessionId: string) => void;
}

function OtherButton({ label, whyNot, session, isShown, onChoose }: OtherButtonProps) {
  if (session === undefined) return <span class="hint">{whyNot}</span>;
  return (
    <button type="button" class="button" aria-pressed={isShown} onClick={() => onChoose(session.sessionId)}>
      {label}
    </button>
  );
}

function PairTable({ one, other }: { readonly one: PastSession; readonly other: PastSession }) {
  const { text } = useApp();
  const words = text.weeksMore.pair;
  const { byPlan, rows } = pairedRows(one, other);
  const plan = sharedPlan(one, other);
  const measures = text.history.weeks.measures;
  return (
    <>
      <dl class="session-pair-heads">
        <SessionHead mark="A" session={one} />
        <SessionHead mark="B" session={other} />
      </dl>
      <p class="hint">{byPlan && plan !== null ? words.byPlan(plan) : words.byOrder}</p>
      <ScrollRegion label={words.title}>
        <table class="measures session-pair-table">
          <thead>
            <tr>
              <th scope="col">{byPlan ? words.row : words.hold}</th>
              {trendMeasures.map(({ key }) => (
                <th scope="col" key={key}>
                  {measures[key]}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <tr key={row.number}>
                <th scope="row">{row.number}</th>
                {trendMeasures.map(({ key, unit }) => (
                  <td key={key}>
                    <PairCell
                      unit={unit}
                      row={row}
                      one={valueAt(one, key, row.one)}
                      other={valueAt(other, key, row.other)}
                    />
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </ScrollRegion>
    </>
  );
}

function SessionHead({ mark, session }: { readonly mark: string; readonly session: PastSession }) {
  const { text } = useApp();
  const words = text.weeksMore.pair;
  const noted = session.details === null ? [] : detailsInShort(session.details, text);
  return (
    <>
      <dt>{mark}</dt>
      <dd>
        <a href={`/recordings/${session.sessionId}`}>{nameOf(session)}</a>
        <small class="hint">{noted.length === 0 ? words.notNoted : noted.join(' \u00b7 ')}</small>
      </dd>
    </>
  );
}

interface PairCellProps {
  readonly unit: TrendUnit;
  readonly row: PairedRow;
  readonly one: number | null;
  readonly other: number | null;
}

function PairCell({ unit, row, one, other }: PairCellProps) {
  const { text } = useApp();
  const words = text.weeksMore.pair;
  const worded = (value: number | null, place: number | null) =>
    value === null ? (
      <span class="is-unknown">{place === null ? words.noRow : text.notKnown}</span>
    ) : (
      formatValue(value, unit)
    );
  return (
    <>
      <span class="session-pair-value">A {worded(one, row.one)}</span>
      <span class="session-pair-value">B {worded(other, row.other)}</span>
      {one === null || other === null ? null : (
        <small class="hint">{words.difference(signed(one - other, unit))}</small>
      )}
    </>
  );
}

/** With its sign, a true minus; nothing is called better or worse. */
function signed(value: number, unit: TrendUnit): string {
  const sign = value > 0 ? '+' : value < 0 ? '\u2212' : '\u00b1';
  return `${sign}${formatValue(Math.abs(value), unit)}`;
}
