// What a plan is expected to do: its shape in words, saturation and carbon dioxide drawn, and a table of its rows.

import type { Plan } from '../../../shared/plan.ts';
import { clockText } from '../../../shared/words/formats.ts';
import { describePlan, type PlanDescription } from '../../../src/plans/describe-plan.ts';
import { type NoPlanEffect, type PlanEffect, sayNoEffect } from '../../../src/plans/plan-effect.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDecimal, formatWhole } from '../../state/format.ts';
import { Co2Chart, PreviewChart } from './preview-chart.tsx';
import { kPaPerMmHg } from './preview-geometry.ts';

export interface PlanOutlookProps {
  readonly plan: Plan;
  readonly effect: PlanEffect | NoPlanEffect;
  readonly floorPercent: number;
  readonly longestHoldSeconds: number;
  /** Whose saturation is drawn, as a sentence. */
  readonly whose: string;
}

export function PlanOutlook({ plan, effect, floorPercent, longestHoldSeconds, whose }: PlanOutlookProps) {
  const { text, say } = useApp();
  const words = text.plans;
  const description = describePlan(plan, longestHoldSeconds * 1_000);
  return (
    <div class="plan-outlook">
      <p>{say(description.shape)}</p>
      {typeof effect === 'string' ? (
        <p class="hint">{say(sayNoEffect[effect])}</p>
      ) : (
        <>
          <PreviewChart preview={effect.preview} floorPercent={floorPercent} />
          <Co2Chart preview={effect.preview} />
          <p>
            {whose} {words.stress[effect.preview.stress]}
          </p>
          <p class="hint">{say(effect.preview.caution)}</p>
        </>
      )}
      {description.rows.length === 0 ? null : (
        <PlanTable rows={description.rows} effect={typeof effect === 'string' ? null : effect} />
      )}
      {description.lengthMs === null ? null : <p>{words.wholeLength(clockText(description.lengthMs))}</p>}
    </div>
  );
}

interface PlanTableProps {
  readonly rows: PlanDescription['rows'];
  /** Null where there is no preview: the table has no column for it. */
  readonly effect: PlanEffect | null;
}

function PlanTable({ rows, effect }: PlanTableProps) {
  const { text, say } = useApp();
  const words = text.plans;
  const holdOf = (stepIndex: number) => effect?.steps.find((step) => step.stepIndex === stepIndex)?.hold;
  return (
    <ScrollRegion label={words.details}>
      <table class="plan-table">
        <thead>
          <tr>
            <th scope="col">{words.columns.start}</th>
            <th scope="col">
              <span class="visually-hidden">{words.details}</span>
            </th>
            <th scope="col">{words.columns.length}</th>
            <th scope="col">{words.columns.recovery}</th>
            {effect === null ? null : (
              <>
                <th scope="col">{words.columns.lowest}</th>
                <th scope="col">{words.columns.endCo2}</th>
              </>
            )}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.stepIndex}>
              <td>{row.startsAtMs === null ? '' : clockText(row.startsAtMs)}</td>
              <th scope="row">{say(row.label)}</th>
              <td>{say(row.effort)}</td>
              <td>{row.recoveryMs === null ? '' : clockText(row.recoveryMs)}</td>
              {effect === null ? null : (
                <>
                  <td>
                    <LowestExpected hold={holdOf(row.stepIndex)} />
                  </td>
                  <td>
                    <Co2Expected hold={holdOf(row.stepIndex)} />
                  </td>
                </>
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollRegion>
  );
}

type PreviewedHold = PlanEffect['steps'][number]['hold'];

function Co2Expected({ hold }: { readonly hold: PreviewedHold | undefined }) {
  const { text } = useApp();
  if (hold === undefined) return <>{text.notKnown}</>;
  const { middle, low, high } = hold.endPco2MmHg;
  const kPa = (mmHg: number): string => formatDecimal(mmHg * kPaPerMmHg, 1);
  return (
    <span class="plan-range">
      {`${kPa(middle)}\u202fkPa (${kPa(low)}\u2013${kPa(high)})`}
      <br />
      {`${formatWhole(middle)}\u202fmmHg (${formatWhole(low)}\u2013${formatWhole(high)})`}
    </span>
  );
}

function LowestExpected({ hold }: { readonly hold: PreviewedHold | undefined }) {
  const { text } = useApp();
  if (hold === undefined) return <>{text.notKnown}</>;
  const { middle, low, high } = hold.lowestReadingPercent;
  return (
    <>
      {`${formatWhole(middle)}\u202f% `}
      <span class="plan-range">
        ({formatWhole(low)}
        {'\u2013'}
        {formatWhole(high)})
      </span>
      {hold.crossing === 'unlikely' ? null : <strong> {text.plans.crossing[hold.crossing]}</strong>}
    </>
  );
}
