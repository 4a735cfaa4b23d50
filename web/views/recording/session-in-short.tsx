// What is asked first after a session, above everything else: holds, longest, lowest saturation, alarms, recovery, comfort.

import type { ComponentChildren } from 'preact';
import type { AthleteRecording } from '../../../shared/http.ts';
import {
  alarmGroups,
  alarmsByGroup,
  headlineOf,
  type OverHolds,
  type SessionHeadline,
} from '../../../src/sessions/session-headline.ts';
import { useApp } from '../../app/app-context.ts';
import { formatDecimal, formatDuration, formatMeasure, isolated } from '../../state/format.ts';
import { lengthWords } from './length-words.ts';
import './session-in-short.css';

export interface SessionInShortProps {
  readonly athlete: AthleteRecording;
  /** Where there are several on a page. */
  readonly isNamed?: boolean;
}

export function SessionInShort({ athlete, isNamed = false }: SessionInShortProps) {
  const { text } = useApp();
  const words = text.recorded;
  const headline = headlineOf(athlete.holds);
  return (
    <section
      class="in-short"
      aria-label={isNamed ? `${words.headline}: ${isolated(athlete.athlete.name)}` : words.headline}
    >
      <dl>
        <Fact label={words.holds}>
          <b>{headline.holdCount}</b>
          {headline.totalMs === 0 ? null : <small>{words.held(formatDuration(headline.totalMs))}</small>}
          {headline.proposedCount === 0 ? null : <small>{words.proposals(headline.proposedCount)}</small>}
        </Fact>
        <Longest headline={headline} holds={athlete.holds} />
        <Lowest headline={headline} athlete={athlete} />
        <Alarms alarms={athlete.alarms} />
        <Recovery headline={headline} workedOut={athlete.workedOut} />
        <Comfort headline={headline} />
      </dl>
    </section>
  );
}

function Fact({ label, children }: { readonly label: string; readonly children: ComponentChildren }) {
  return (
    <div>
      <dt>{label}</dt>
      <dd>{children}</dd>
    </div>
  );
}

interface OfHeadline {
  readonly headline: SessionHeadline;
}

function Longest({ headline, holds }: OfHeadline & Pick<AthleteRecording, 'holds'>) {
  const { text } = useApp();
  const words = text.recorded;
  const { longest } = headline;
  if (longest === null) return null;
  const { length, sure } = lengthWords(holds[longest.number - 1]!.hold, text);
  return (
    <Fact label={words.longest}>
      <b>{length}</b> <span>{sure}</span>
      <small>{words.ofHold(longest.number)}</small>
    </Fact>
  );
}

function Lowest({ headline, athlete }: OfHeadline & { readonly athlete: AthleteRecording }) {
  const { text, say } = useApp();
  const words = text.recorded;
  const { lowest } = headline;
  const { workedOut, holds } = athlete;
  const floor = athlete.athlete.settings.floorSpo2Percent;
  if (holds.length === 0) return null;
  if (lowest === null) {
    const whyNot = holds[0]?.measures.find(({ key }) => key === 'spo2LowestPercent')?.whyNot ?? null;
    return (
      <Fact label={words.lowest}>
        <i>{workedOut ? text.notKnown : words.notYet}</i>
        {whyNot === null ? null : <small>{say(whyNot)}</small>}
      </Fact>
    );
  }
  const { number, spo2Percent, afterEndS } = lowest;
  const when =
    afterEndS === null
      ? ''
      : `, ${(afterEndS < 0 ? words.beforeEnd : words.afterEnd)(formatMeasure(Math.abs(afterEndS), 's'))}`;
  return (
    <Fact label={words.lowest}>
      <b>{formatMeasure(spo2Percent, '%')}</b>
      <small>
        {words.ofHold(number)}
        {when}
      </small>
      {spo2Percent < floor ? <small class="in-short-floor">{words.card.belowFloor(floor)}</small> : null}
    </Fact>
  );
}

function Alarms({ alarms }: Pick<AthleteRecording, 'alarms'>) {
  const { text } = useApp();
  const words = text.recorded;
  const groups = alarmsByGroup(alarms);
  return (
    <Fact label={words.alarms}>
      {alarms.length === 0 ? (
        <i>{words.noAlarms}</i>
      ) : (
        <ul class="in-short-alarms">
          {alarmGroups
            .filter((group) => groups[group].length > 0)
            .map((group) => (
              <li key={group} class={`event-alarm--${group === 'floor' ? 'high' : group}`}>
                <b>{groups[group].length}</b> {words.alarmGroup[group]}
              </li>
            ))}
        </ul>
      )}
    </Fact>
  );
}

function Recovery({ headline, workedOut }: OfHeadline & Pick<AthleteRecording, 'workedOut'>) {
  const { text } = useApp();
  const words = text.recorded;
  const { spo2BackS, heartRateBackS, notBackBeforeNext, holdCount } = headline;
  if (holdCount === 0) return null;
  const range = ({ least, greatest }: OverHolds): string =>
    least === greatest
      ? formatMeasure(least, 's')
      : words.range(formatOne(least), formatMeasure(greatest, 's'));
  return (
    <Fact label={words.recovery}>
      {spo2BackS === null && heartRateBackS === null ? (
        <i>{workedOut ? text.notKnown : words.notYet}</i>
      ) : (
        <>
          {spo2BackS === null ? null : <span class="in-short-line">{words.spo2Back(range(spo2BackS))}</span>}
          {heartRateBackS === null ? null : (
            <span class="in-short-line">{words.heartRateBack(range(heartRateBackS))}</span>
          )}
          <small>{words.recoveryWhat}</small>
        </>
      )}
      {notBackBeforeNext === 0 ? null : <small>{words.notBackBeforeNext(notBackBeforeNext)}</small>}
    </Fact>
  );
}

/** As `formatMeasure` writes it, without the unit. */
const formatOne = (value: number): string =>
  Number.isInteger(value) ? String(value) : formatDecimal(value, 1);

function Comfort({ headline }: OfHeadline) {
  const { text } = useApp();
  const words = text.recorded;
  const { comfort, holdCount } = headline;
  if (holdCount === 0) return null;
  return (
    <Fact label={words.comfort}>
      {comfort.every((each) => each === null) ? (
        <i>{words.comfortNotSaid}</i>
      ) : (
        <>
          <span class="in-short-line">
            {comfort.map((each) => (each === null ? words.noComfort : String(each))).join(' \u00b7 ')}
          </span>
          <small>{words.comfortScale}</small>
        </>
      )}
    </Fact>
  );
}
