// Scores what the live detector says in the sessions that draw-judged.ts wrote (SIMULATED): holds of 30 s and more found, when,
// and false ones. Run: score-judged-live.ts ROWS_FOLDER SEEDS NAME=WEIGHTS_FOLDER|committed...; SEEDS as `1,2,3`.

import type { Hold, HoldEvent } from '../../../src/holds/hold.ts';
import { createHoldBelief } from '../../../src/holds/hold-belief.ts';
import { createHoldLedger } from '../../../src/holds/hold-ledger.ts';
import { createLiveDecision } from '../../../src/holds/live-decision.ts';
import { committedNetworks } from '../../../src/holds/smoothing-network.ts';
import { pairUp } from '../../support/scoring/judge-session.ts';
import { type JudgedSession, readNetwork, readSessions } from './judged-sessions.ts';

const shortMs = 30_000;

function heldLive(session: JudgedSession, folder: string): { hold: Hold; saidAtMs: number }[] {
  const networks =
    folder === 'committed'
      ? undefined
      : {
          live: readNetwork(`${folder}/live.ts`),
          smoothing: readNetwork(`${folder}/smoothing.ts`),
          pleth: committedNetworks.pleth,
        };
  const ledger = createHoldLedger('hold-');
  const decision = createLiveDecision(ledger, createHoldBelief(networks));
  const holds = new Map<string, { hold: Hold; saidAtMs: number }>();
  for (const row of session.rows) {
    decision.row(row, row.atMs);
    for (const event of ledger.takeEvents() as readonly HoldEvent[])
      if (event.type === 'holdWithdrawn') holds.delete(event.holdId);
      else if (event.type !== 'phaseChanged')
        holds.set(event.hold.holdId, {
          hold: event.hold,
          saidAtMs: holds.get(event.hold.holdId)?.saidAtMs ?? row.atMs,
        });
  }
  return [...holds.values()].filter(({ hold }) => hold.end !== undefined);
}

const [folder, seeds, ...asked] = process.argv.slice(2);
if (folder === undefined || seeds === undefined)
  throw new Error('usage: score-judged-live.ts ROWS_FOLDER SEEDS NAME=FOLDER...');
const wanted = new Set(seeds.split(',').map(Number));
const sessions = readSessions(folder).filter(({ seed }) => wanted.has(seed));
for (const [name, weights] of asked.map((text) => text.split('=') as [string, string])) {
  const sums = new Map<
    string,
    { truths: number; found: number; wrong: number; delays: number[]; hours: number }
  >();
  for (const session of sessions) {
    const group = `${session.generator}, ${session.sensors.startsWith('beats') ? 'with' : 'without'} beats`;
    const sum = sums.get(group) ?? { truths: 0, found: 0, wrong: 0, delays: [], hours: 0 };
    sums.set(group, sum);
    const said = heldLive(session, weights ?? name);
    const { pairs, left } = pairUp(
      session.holds,
      said.map(({ hold }) => hold),
    );
    sum.hours += session.rows.length / 3_600;
    sum.truths += session.holds.filter(({ startMs, endMs }) => endMs - startMs >= shortMs).length;
    sum.wrong += left.length;
    for (const { truth, found: hold } of pairs) {
      if (truth.endMs - truth.startMs < shortMs) continue;
      sum.found += 1;
      sum.delays.push(said.find((one) => one.hold === hold)!.saidAtMs - truth.startMs);
    }
  }
  for (const [group, { truths, found, wrong, delays, hours }] of sums) {
    const median = delays.sort((a, b) => a - b)[Math.floor(delays.length / 2)] ?? Number.NaN;
    console.log(
      `${name}: ${group}: ${found} of ${truths} found (${(found / truths).toFixed(2)}), ${wrong} false in ${hours.toFixed(0)} h, F1 ${((2 * found) / (truths + found + wrong)).toFixed(3)}, said after ${(median / 1_000).toFixed(0)} s`,
    );
  }
}
