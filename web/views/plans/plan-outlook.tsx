// What a plan is expected to do, drawn: holds, saturation with its band, the floor; and the rows beside it.

import type { Plan } from '../../../shared/plan.ts';
import { clockText } from '../../../shared/words/formats.ts';
import type { AthleteOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import type { PlanPreview } from '../../../src/oxygen/plan-preview.ts';
import { describePlan } from '../../../src/plans/describe-plan.ts';
import {
  type NoPlanEffect,
  type PlanEffect,
  previewForAthletes,
  sayNoEffect,
} from '../../../src/plans/plan-effect.ts';
import { useApp } from '../../app/app-context.ts';
import { useWidth } from '../../charts/svg-plot.tsx';
import { formatWhole } from '../../state/format.ts';

/** The outlook of a plan for one floor and these athletes; the same as the hub computes. */
export const outlookOf = (
  plan: Plan,
  athletes: readonly AthleteOxygen[],
  floorPercent: number,
  longestHoldSeconds: number,
): ReturnType<typeof previewForAthletes> =>
  previewForAthletes(plan, athletes, floorPercent, longestHoldSeconds * 1_000);

export function PlanOutlook({
  plan,
  effect,
  floorPercent,
  longestHoldSeconds,
  whose,
}: {
  readonly plan: Plan;
  readonly effect: PlanEffect | NoPlanEffect;
  readonly floorPercent: number;
  readonly longestHoldSeconds: number;
  /** Whose saturation is drawn, as a sentence. */
  readonly whose: string;
}) {
  const { text, say } = useApp();
  const words = text.plans;
  const description = describePlan(plan, longestHoldSeconds * 1_000);
  const holdOf = (stepIndex: number) =>
    typeof effect === 'string' ? undefined : effect.steps.find((step) => step.stepIndex === stepIndex)?.hold;
  return (
    <div class="plan-outlook">
      <p>{say(description.shape)}</p>
      {typeof effect === 'string' ? (
        <p class="hint">{say(sayNoEffect[effect])}</p>
      ) : (
        <>
          <PreviewChart preview={effect.preview} floorPercent={floorPercent} />
          <p>
            {whose} {words.stress[effect.preview.stress]}
          </p>
          <p class="hint">{say(effect.preview.caution)}</p>
        </>
      )}
      {description.rows.length === 0 ? null : (
        // biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard
        <section class="table-scroll" tabIndex={0} aria-label={words.details}>
          <table class="plan-table">
            <thead>
              <tr>
                <th scope="col">{words.columns.start}</th>
                <th scope="col">
                  <span class="visually-hidden">{words.details}</span>
                </th>
                <th scope="col">{words.columns.length}</th>
                <th scope="col">{words.columns.recovery}</th>
                {typeof effect === 'string' ? null : <th scope="col">{words.columns.lowest}</th>}
              </tr>
            </thead>
            <tbody>
              {description.rows.map((row) => {
                const hold = holdOf(row.stepIndex);
                return (
                  <tr key={row.stepIndex}>
                    <td>{row.startsAtMs === null ? '' : clockText(row.startsAtMs)}</td>
                    <th scope="row">{say(row.label)}</th>
                    <td>{say(row.effort)}</td>
                    <td>{row.recoveryMs === null ? '' : clockText(row.recoveryMs)}</td>
                    {typeof effect === 'string' ? null : (
                      <td>
                        {hold === undefined
                          ? text.notKnown
                          : `${formatWhole(hold.lowestReadingPercent.middle)}\u202f% `}
                        {hold === undefined ? null : (
                          <span class="plan-range">
                            ({formatWhole(hold.lowestReadingPercent.low)}
                            {'\u2013'}
                            {formatWhole(hold.lowestReadingPercent.high)})
                          </span>
                        )}
                        {hold === undefined || hold.crossing === 'unlikely' ? null : (
                          <strong> {words.crossing[hold.crossing]}</strong>
                        )}
                      </td>
                    )}
                  </tr>
                );
              })}
            </tbody>
          </table>
        </section>
      )}
      {description.lengthMs === null ? null : <p>{words.wholeLength(clockText(description.lengthMs))}</p>}
    </div>
  );
}

const height = 200;
const left = 34;
const bottom = 22;

function PreviewChart({
  preview,
  floorPercent,
}: {
  readonly preview: PlanPreview;
  readonly floorPercent: number;
}) {
  const { text } = useApp();
  // Drawn at the width it has, so that its numbers keep their size on a phone.
  const { element, width: measured } = useWidth();
  const width = Math.max(280, measured);
  const { points, holds } = preview;
  const lastMs = points.at(-1)?.atMs ?? 1;
  const least = Math.min(floorPercent - 5, ...points.map((point) => point.readingPercent.low));
  const bottomPercent = Math.max(40, Math.floor(least / 10) * 10);
  const x = (atMs: number) => left + ((width - left) * atMs) / lastMs;
  const y = (percent: number) =>
    6 + ((height - bottom - 6) * (100 - Math.max(bottomPercent, percent))) / (100 - bottomPercent);
  const at = (atMs: number, percent: number) => `${x(atMs).toFixed(1)},${y(percent).toFixed(1)}`;
  const middle = points.map((point) => at(point.atMs, point.readingPercent.middle)).join(' ');
  const band = [
    ...points.map((point) => at(point.atMs, point.readingPercent.high)),
    ...points.toReversed().map((point) => at(point.atMs, point.readingPercent.low)),
  ].join(' ');
  const lowest = Math.min(...holds.map((hold) => hold.lowestReadingPercent.middle));
  const lines: number[] = [];
  for (let percent = bottomPercent; percent <= 100; percent += 10) lines.push(percent);
  const minuteStep = [1, 2, 5, 10, 20].find((step) => (lastMs / 60_000 / step) * 32 < width - left) ?? 30;
  const minutes: number[] = [];
  for (let minute = 0; minute * 60_000 <= lastMs; minute += minuteStep) minutes.push(minute);
  return (
    <figure class="plot-figure">
      <figcaption>{text.plans.previewAxes}</figcaption>
      <div ref={element}>
        <svg
          class="plan-chart"
          viewBox={`0 0 ${width} ${height}`}
          role="img"
          aria-label={text.plans.previewLabel(`${formatWhole(lowest)} %`, floorPercent)}
        >
          {holds.map((hold) => (
            <rect
              key={hold.segmentIndex}
              class="plan-chart-hold"
              x={x(hold.startsAtMs)}
              y={6}
              width={Math.max(1, x(hold.endsAtMs) - x(hold.startsAtMs))}
              height={height - bottom - 6}
            />
          ))}
          {lines.map((percent) => (
            <g key={percent}>
              <line class="plan-chart-grid" x1={left} x2={width} y1={y(percent)} y2={y(percent)} />
              <text class="plan-chart-text" x={left - 6} y={y(percent) + 4} text-anchor="end">
                {percent}
              </text>
            </g>
          ))}
          {minutes.map((minute) => (
            <text
              key={minute}
              class="plan-chart-text"
              x={x(minute * 60_000)}
              y={height - 6}
              text-anchor="middle"
            >
              {minute}
            </text>
          ))}
          <polygon class="plan-chart-band" points={band} />
          <polyline class="plan-chart-line" points={middle} />
          <line class="plan-chart-floor" x1={left} x2={width} y1={y(floorPercent)} y2={y(floorPercent)} />
        </svg>
      </div>
      <p class="hint">{text.plans.previewKey}</p>
    </figure>
  );
}
