// The live detector: rows from samples, what is believed of them, marks, and the decisions that a page shows.

import { createSecondRows, type SecondRow } from '../signal/second-rows.ts';
import type { DetectorEvent, HoldDetector, HoldEvent } from './hold.ts';
import { createHoldBelief, type LiveNetworks } from './hold-belief.ts';
import { asHold, createHoldLedger } from './hold-ledger.ts';
import { createLiveDecision } from './live-decision.ts';

export interface HoldDetectorOptions {
  /** Put before each hold's number, so that ids of several athletes differ. */
  readonly holdIdPrefix?: string;
  /** So many holds of the session came before the first that it can find. */
  readonly holdsBefore?: number;
  /** Others than the committed ones are for cross-validation. */
  readonly networks?: LiveNetworks;
}

/** Makes a detector for one athlete. Deterministic; time only comes in with events. */
export function createHoldDetector(options: HoldDetectorOptions = {}): HoldDetector {
  const rows = createSecondRows();
  const ledger = createHoldLedger(options.holdIdPrefix ?? 'hold-', options.holdsBefore);
  const decision = createLiveDecision(ledger, createHoldBelief(options.networks));
  let nowMs = 0;
  const decide = (made: readonly SecondRow[]): void => {
    for (let i = 0; i < made.length; i++) decision.row(made[i]!, nowMs);
  };
  const reach = (atMs: number): void => {
    nowMs = Math.max(nowMs, Number.isFinite(atMs) ? atMs : nowMs);
  };

  return {
    push(event: DetectorEvent): readonly HoldEvent[] {
      switch (event.type) {
        case 'sample':
          reach(event.sample.atMs);
          decide(rows.push(event.sample));
          break;
        case 'advance':
          reach(event.atMs);
          decide(rows.advance(event.atMs));
          break;
        case 'mark':
          reach(event.mark.atMs);
          ledger.mark(event.mark, nowMs);
          if (event.mark.kind === 'holdStart') decision.startMarked();
          else if (event.mark.kind === 'holdEnd' || event.mark.kind === 'breathing') decision.endMarked();
          break;
        case 'markRemoved':
          if (ledger.removeMark(event.markId, nowMs)) decision.endMarked();
          break;
        case 'unwatched':
          decide(rows.advance(event.fromMs));
          reach(event.toMs);
          for (const row of rows.advance(event.toMs)) decision.unwatched(row);
          if (event.known !== undefined) ledger.adopt(event.known, nowMs);
          decision.watchedAgain(nowMs);
          break;
        case 'schedule':
          decision.planned(event.startAtMs, event.toleranceMs);
          break;
      }
      return ledger.takeEvents();
    },
    get offBody() {
      return rows.offBody;
    },
    get phase() {
      return ledger.phase;
    },
    get current() {
      return ledger.current === undefined ? undefined : asHold(ledger.current);
    },
  };
}
