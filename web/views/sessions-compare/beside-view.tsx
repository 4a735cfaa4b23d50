// The same measures twice on one scale, as small plots side by side: one athlete by two plans, tags, places or lungs, or two
// athletes who agreed to it.

import { type Signal, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { Athlete } from '../../../shared/views.ts';
import { quantileOfSorted, sortedRising } from '../../../src/sessions/quantiles.ts';
import { trendMeasures } from '../../../src/sessions/session-summary.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useWidth } from '../../charts/svg-plot.tsx';
import { AthleteField } from '../../components/athlete-field.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { Tick } from '../../components/tick.tsx';
import { useAthletes } from '../../components/use-athletes.ts';
import { WeeksFilterFields } from '../../components/weeks-filter-fields.tsx';
import { localDay } from '../../state/calendar.ts';
import { isolated } from '../../state/format.ts';
import { everySession, filteredSessions, type WeeksFilter, weeksChoices } from '../../state/weeks-filter.ts';
import {
  comfortPoints,
  hasHolds,
  type PastSession,
  type TrendPoint,
  trendPoints,
} from '../weeks/past-sessions.ts';
import { axisUnitOf, rangeOf, TrendPlot } from '../weeks/trend-plot.tsx';
import { formatValue, type TrendUnit } from '../weeks/trend-words.ts';
import { useTwoHistories } from './use-two-histories.ts';
import './sessions-compare.css';
import '../weeks/weeks.css';

const mostSpanDays = 182;
const leastSpanDays = 28;

interface Side {
  readonly athleteId: string;
  readonly filter: WeeksFilter;
}

export function BesideView({ athleteId }: { readonly athleteId: string }) {
  const { text } = useApp();
  const words = text.weeksMore.beside;
  useDocumentTitle(words.title);
  const problem = useSignal<string | null>(null);
  const athletes = useAthletes((reason) => {
    problem.value = text.history.weeks.failed(reason);
  });
  const left = useSignal<Side>({ athleteId, filter: everySession });
  const right = useSignal<Side>({ athleteId, filter: everySession });
  const known = athletes.value ?? [];
  return (
    <article class="sheet sheet--wide beside">
      <a class="button button--quiet back-link" href={`/weeks/${athleteId}`}>
        {'\u2190'} {text.history.compare.backToWeeks}
      </a>
      <h1>{words.title}</h1>
      <p class="hint">{words.lead}</p>
      <ProblemNotice problem={problem.value} />
      {athletes.value === null ? null : <Sides left={left} right={right} athletes={known} />}
    </article>
  );
}

interface SidesProps {
  readonly left: Signal<Side>;
  readonly right: Signal<Side>;
  readonly athletes: readonly Athlete[];
}

function Sides({ left, right, athletes }: SidesProps) {
  const { text } = useApp();
  const words = text.weeksMore.beside;
  const two = left.value.athleteId !== right.value.athleteId;
  const agreed = useAgreements(two ? [left.value.athleteId, right.value.athleteId] : []);
  const isSame = !two && JSON.stringify(left.value.filter) === JSON.stringify(right.value.filter);
  /** Which side, and what is chosen for it. */
  const nameOf = (key: 'left' | 'right'): string => {
    const { athleteId, filter } = (key === 'left' ? left : right).value;
    const { plan, tag, place, lungs } = filter;
    const chosen = [
      two ? isolated(athletes.find((each) => each.athleteId === athleteId)?.name ?? '') : '',
      plan,
      tag === '' ? '' : `#${tag}`,
      place,
      lungs === '' ? '' : text.lungs.choice[lungs],
    ].filter((part) => part !== '');
    return `${words[key]}: ${chosen.length === 0 ? words.all : chosen.join(' \u00b7 ')}`;
  };
  const isAnyHidden = two && [left, right].some(({ value }) => !agreed.has(value.athleteId));
  const { histories, problem } = useTwoHistories(left.value.athleteId, right.value.athleteId, !isAnyHidden);
  const sides = [
    { key: 'left' as const, side: left, sessions: histories.value?.[0].sessions ?? [] },
    { key: 'right' as const, side: right, sessions: histories.value?.[1].sessions ?? [] },
  ];
  const shown = sides.map(({ side, sessions }): readonly PastSession[] =>
    filteredSessions(sessions, side.value.filter).filter(hasHolds),
  );
  return (
    <>
      <div class="beside-sides">
        {sides.map(({ key, side, sessions }) => (
          <SideFields
            key={key}
            label={words[key]}
            side={side}
            athletes={athletes}
            sessions={sessions}
            consent={two ? agreed.has(side.value.athleteId) : null}
            onConsent={(isGiven) => agreed.set(side.value.athleteId, isGiven)}
          />
        ))}
      </div>
      <ProblemNotice problem={agreed.problem ?? problem.value} />
      {shown.some((sessions) => sessions.some(({ simulated }) => simulated)) ? (
        <p class="notice notice--strong">{text.history.weeks.simulated}</p>
      ) : null}
      {isAnyHidden ? null : isSame ? (
        <p class="hint">{words.same}</p>
      ) : (
        <Multiples left={shown[0] ?? []} right={shown[1] ?? []} names={[nameOf('left'), nameOf('right')]} />
      )}
    </>
  );
}

/** Who agreed to be shown beside others, and changing that. */
function useAgreements(athleteIds: readonly string[]) {
  const { text, http } = useApp();
  const agreed = useSignal<ReadonlySet<string>>(new Set());
  const problem = useSignal<string | null>(null);
  const take = (athleteId: string, isGiven: boolean) => {
    const next = new Set(agreed.value);
    if (isGiven) next.add(athleteId);
    else next.delete(athleteId);
    agreed.value = next;
  };
  /** Whom something was said of here: what the hub was asked before is older. */
  const said = useRef<ReadonlySet<string>>(new Set());
  useEffect(() => {
    let current = true;
    for (const athleteId of athleteIds)
      void http.sharing(athleteId).then((answer) => {
        if (current && answer.ok && !said.current.has(athleteId)) take(athleteId, answer.value.agreed);
      });
    return () => {
      current = false;
    };
  }, [athleteIds.join(' ')]);
  return {
    problem: problem.value,
    has: (athleteId: string) => agreed.value.has(athleteId),
    set: (athleteId: string, isGiven: boolean) => {
      said.current = new Set([...said.current, athleteId]);
      void http.setSharing(athleteId, isGiven).then((answer) => {
        problem.value = answer.ok ? null : text.weeksMore.beside.failed(answer.reason);
        if (answer.ok) take(athleteId, answer.value.agreed);
      });
    },
  };
}

interface SideFieldsProps {
  readonly label: string;
  readonly side: Signal<Side>;
  readonly athletes: readonly Athlete[];
  readonly sessions: readonly PastSession[];
  /** Null where one athlete is on both sides: nobody else is shown. */
  readonly consent: boolean | null;
  readonly onConsent: (isGiven: boolean) => void;
}

function SideFields({ label, side, athletes, sessions, consent, onConsent }: SideFieldsProps) {
  const { text } = useApp();
  const words = text.weeksMore.beside;
  const { athleteId, filter } = side.value;
  const name = isolated(athletes.find((each) => each.athleteId === athleteId)?.name ?? '');
  return (
    <fieldset class="beside-side">
      <legend>{label}</legend>
      {athletes.length > 1 ? (
        <AthleteField
          label={words.athlete}
          athletes={athletes}
          athleteId={athleteId}
          onChange={(id) => (side.value = { athleteId: id, filter: everySession })}
        />
      ) : null}
      {consent === null ? null : (
        <>
          <Tick strong={!consent} checked={consent} onChange={onConsent}>
            {words.consent(name)}
          </Tick>
          <p class="hint">
            {consent ? words.consentWhy : `${words.consentNeeded(name)} ${words.consentWhy}`}
          </p>
        </>
      )}
      <WeeksFilterFields
        filter={filter}
        choices={weeksChoices(sessions)}
        onChange={(changed) => (side.value = { athleteId, filter: changed })}
      />
    </fieldset>
  );
}

interface MultiplesProps {
  readonly left: readonly PastSession[];
  readonly right: readonly PastSession[];
  readonly names: readonly [string, string];
}

function Multiples({ left, right, names }: MultiplesProps) {
  const { text } = useApp();
  const words = text.history.weeks;
  const { element, width } = useWidth();
  const measures: {
    title: string;
    unit: TrendUnit;
    of: (sessions: readonly PastSession[]) => TrendPoint[];
  }[] = [
    ...trendMeasures.map(({ key, unit }) => ({
      title: words.measures[key],
      unit,
      of: (sessions: readonly PastSession[]) => trendPoints(sessions, key),
    })),
    { title: words.comfort, unit: 'comfort', of: comfortPoints },
  ];
  const lastDay = localDay(Date.now()) + 1;
  // As far back as either goes, half a year at the most.
  const oldest = Math.min(
    lastDay - leastSpanDays,
    ...[...left, ...right].map(({ startedWallAtMs }) => localDay(startedWallAtMs) - 2),
  );
  return (
    <div class="beside-plots" ref={element}>
      <h2>{words.trends}</h2>
      {width === 0
        ? null
        : measures.map(({ title, unit, of }) => (
            <MeasureTwice
              key={title}
              title={title}
              unit={unit}
              points={[of(left), of(right)]}
              names={names}
              firstDay={Math.max(lastDay - mostSpanDays, oldest)}
              lastDay={lastDay}
              width={Math.floor((width - 16) / 2)}
              watermark={[...left, ...right].some(({ simulated }) => simulated) ? text.simulatedBand : null}
            />
          ))}
    </div>
  );
}

interface MeasureTwiceProps {
  readonly title: string;
  readonly unit: TrendUnit;
  readonly points: readonly [readonly TrendPoint[], readonly TrendPoint[]];
  readonly names: readonly [string, string];
  readonly firstDay: number;
  readonly lastDay: number;
  readonly width: number;
  readonly watermark: string | null;
}

function MeasureTwice(props: MeasureTwiceProps) {
  const { title, unit, points, names, firstDay, lastDay, width, watermark } = props;
  const { text } = useApp();
  const words = text.weeksMore.beside;
  const headings = text.history.weeks;
  const inSpan = points.map((each) => each.filter(({ atDay }) => atDay >= firstDay && atDay <= lastDay));
  const all = inSpan.flat();
  const medianText = (own: readonly TrendPoint[]): string => {
    const median = quantileOfSorted(sortedRising(own.map(({ value }) => value)), 0.5);
    return median === null ? words.noValues : words.median(formatValue(median, unit), own.length);
  };
  const yRange = all.length === 0 ? undefined : rangeOf(all, unit);
  const axisUnit = axisUnitOf(unit, yRange?.[1] ?? 0);
  return (
    <section class="beside-measure" aria-label={title}>
      <h3>
        {title}, {headings.unitOf[axisUnit] ?? axisUnit}
      </h3>
      {points.map((own, index) => (
        <div key={names[index]}>
          <TrendPlot
            title={`${names[index]}: ${title}`}
            heading={names[index] ?? ''}
            definition=""
            unit={unit}
            points={own}
            firstDay={firstDay}
            lastDay={lastDay}
            width={width}
            watermark={watermark}
            yRange={yRange}
            sentence={medianText(inSpan[index] ?? [])}
          />
        </div>
      ))}
    </section>
  );
}
