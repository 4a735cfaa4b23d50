// A card a hold: its number, length and how sure it is, its parts, what saturation and heart rate did, what was planned.

import type { ComponentChildren } from 'preact';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import type { HoldView } from '../../../shared/views.ts';
import type { PreviewBand } from '../../../src/oxygen/plan-preview.ts';
import { holdAt } from '../../../src/sessions/session-headline.ts';
import { useApp } from '../../app/app-context.ts';
import { boundaryWords } from '../../components/boundary-words.ts';
import { feelingWords } from '../../components/hold-feeling.tsx';
import { UnwatchedLine } from '../../components/unwatched-line.tsx';
import { formatDuration } from '../../state/format.ts';
import type { Corrections } from '../correction/use-corrections.tsx';
import { HoldFacts } from './hold-facts.tsx';
import { HoldPartsBar } from './hold-parts-bar.tsx';
import { lengthWords } from './length-words.ts';
import './hold-cards.css';

/** With more holds than these, a card shows less at first. */
const mostUnfolded = 6;

export interface HoldCardsProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  /** By hold; null while the model is worked out. */
  readonly endPco2: ReadonlyMap<string, PreviewBand> | null;
  /** By hold, what a plan had of it, in words. */
  readonly planned: ReadonlyMap<string, string>;
  readonly onShow: (hold: HoldView) => void;
  readonly onCard: Corrections['onCard'];
  readonly removeHold: Corrections['removeHold'];
  readonly answerProposal: Corrections['answerProposal'];
}

export function HoldCards(props: HoldCardsProps) {
  const { recording, athlete, endPco2, planned } = props;
  const holds = athlete.holds.map(({ hold }) => hold);
  const alarmsOf = (index: number) =>
    athlete.alarms.filter(({ alarm }) => holdAt(holds, alarm.raisedAtMs) === index);
  return (
    <ol class="hold-cards">
      {athlete.holds.map((recorded, index) => {
        const { hold } = recorded;
        return (
          <li key={hold.holdId} class="hold-card">
            <CardHead {...props} hold={hold} number={index + 1} />
            {props.onCard?.form(hold, index + 1, () => props.onShow(hold))}
            <p class="hold-card-when">
              <Boundaries hold={hold} recording={recording} />
            </p>
            {athlete.workedOut ? <HoldPartsBar recorded={recorded} /> : null}
            <HoldFacts
              recorded={recorded}
              workedOut={athlete.workedOut}
              endPco2={endPco2?.get(hold.holdId) ?? null}
              planned={planned.get(hold.holdId) ?? null}
              alarms={alarmsOf(index)}
              floorPercent={athlete.athlete.settings.floorSpo2Percent}
              isLong={holds.length > mostUnfolded}
            />
            <Feeling hold={hold} />
          </li>
        );
      })}
    </ol>
  );
}

function CardHead({
  hold,
  number,
  onShow,
  onCard,
  removeHold,
  answerProposal,
}: HoldCardsProps & { readonly hold: HoldView; readonly number: number }) {
  const { text } = useApp();
  const words = text.recording;
  const { length, sure } = lengthWords(hold, text);
  return (
    <header class="hold-card-head">
      <h3>
        <span class="hold-card-name">{words.hold(number)}</span>{' '}
        {length === null ? null : <b class="hold-card-length">{length}</b>} <small>{sure}</small>
      </h3>
      <div class="hold-card-buttons">
        {hold.isProposed === true ? (
          <>
            <CardButton
              label={words.acceptHold(number)}
              onClick={() => answerProposal(hold, true)}
              isPlain={false}
            >
              {words.accept}
            </CardButton>
            <CardButton
              label={words.dismissHold(number)}
              onClick={() => answerProposal(hold, false)}
              isPlain={false}
            >
              {words.dismiss}
            </CardButton>
          </>
        ) : null}
        <CardButton label={words.showHold(number)} onClick={() => onShow(hold)}>
          {words.show}
        </CardButton>
        {onCard === null ? null : (
          <CardButton label={text.history.correction.correctHold(number)} onClick={() => onCard.open(hold)}>
            {text.history.correction.correct}
          </CardButton>
        )}
        {removeHold === null ? null : (
          <CardButton
            label={text.history.correction.removeHold(number)}
            onClick={() => removeHold(hold.holdId)}
          >
            {text.history.correction.remove}
          </CardButton>
        )}
      </div>
    </header>
  );
}

function CardButton({
  label,
  onClick,
  isPlain = true,
  children,
}: {
  readonly label: string;
  readonly onClick: () => void;
  readonly isPlain?: boolean;
  readonly children: ComponentChildren;
}) {
  return (
    <button
      type="button"
      class={isPlain ? 'button button--quiet' : 'button'}
      aria-label={label}
      onClick={onClick}
    >
      {children}
    </button>
  );
}

function Boundaries({ hold, recording }: { readonly hold: HoldView; readonly recording: RecordingBody }) {
  const { text } = useApp();
  const words = text.recording;
  return (
    <>
      {words.startedAt(formatDuration(hold.start.atMs), boundaryWords(hold.start, text))}
      {', '}
      {hold.end === null
        ? words.noEnd
        : words.endedAt(formatDuration(hold.end.atMs), boundaryWords(hold.end, text))}
      <UnwatchedLine hold={hold} unwatched={recording.session.unwatched} nowMs={recording.durationMs} />
      {hold.isProposed === true || hold.confidence === undefined
        ? null
        : `, ${words.confidence(Math.round(100 * hold.confidence))}`}
      {hold.isProposed === true ? (
        <strong class="hold-proposal"> {words.proposed(Math.round(100 * (hold.confidence ?? 0)))}</strong>
      ) : null}
    </>
  );
}

function Feeling({ hold }: { readonly hold: HoldView }) {
  const { text } = useApp();
  const said = feelingWords(hold.feeling, text.plans.comfortScale, text.feeling.label);
  return said === null ? null : <p class="hold-feeling">{said}</p>;
}
