// A session of two by a plan, recorded by the real hub: two holds each, the floor crossed in the second, a contraction marked.

import { expect } from 'vitest';
import type { Store } from '../../hub/base/ports/store.ts';
import type { SessionsBody } from '../../shared/http.ts';
import { fetchAsOwn } from './own-person.ts';
import { type Body, openPageHub, type PageHub } from './page-hub.ts';

/** Holds from 80 s to 150 s and, after a floor that is crossed in the second, from 290 s to 400 s. */
const spansS = [
  [80, 150],
  [290, 400],
] as const;
const twoHolds =
  (lateS: number): Body =>
  (second) => {
    const atS = second - lateS;
    let spo2Percent = 98 + 0.6 * Math.sin(second * 1.7);
    let heartRateBpm = 66 + 1.5 * Math.sin(second);
    let holding = false;
    for (const [fromS, toS] of spansS) {
      if (atS >= fromS && atS < toS) {
        holding = true;
        heartRateBpm -= Math.min(18, (atS - fromS) * 0.6);
      } else if (atS >= toS && atS < toS + 18) heartRateBpm -= 18 - (atS - toS);
      const shownS = atS - 20;
      if (shownS > fromS && shownS < toS + 25) {
        const fall = Math.max(0, Math.min(shownS, toS) - fromS - 40) * 0.22;
        spo2Percent -= fall * (1 - Math.max(0, Math.min(1, (shownS - toS) / 18)));
      }
    }
    return {
      spo2Percent: Math.min(99, Math.round(spo2Percent)),
      heartRateBpm: Math.round(heartRateBpm),
      holding,
    };
  };

const plan = {
  format: 'slackwater-plan',
  version: 1,
  title: 'Evening table',
  note: '',
  leadInSeconds: 60,
  kind: 'holdTable',
  shape: 'own',
  rows: [70, 120].map((ceilingSeconds) => ({ ceilingSeconds, recoverySeconds: 120 })),
};

async function startPlan(hub: PageHub): Promise<void> {
  const start = (acceptedWarnings: readonly string[]) =>
    fetchAsOwn(`${hub.url}/api/plan-runs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({
        plan,
        longestHoldMs: 120_000,
        options: {
          athletes: hub.athletes.map(({ athleteId }) => ({ athleteId, offsetMs: 0 })),
          oneAtATime: false,
          assumeFromCues: false,
          acceptedWarnings,
        },
      }),
    });
  const asked = await start([]);
  if (asked.status === 201) return;
  const { warnings } = (await asked.json()) as { warnings: { code: string }[] };
  expect((await start(warnings.map(({ code }) => code))).status).toBe(201);
}

/** A session of two by a plan; the address of its recording. */
export async function recordedByPlan(store?: Store): Promise<{ hub: PageHub; path: string }> {
  const hub = await openPageHub({
    athleteCount: 2,
    simulated: true,
    bodyOf: (index) => twoHolds(4 * index),
    ...(store !== undefined && { store }),
  });
  await startPlan(hub);
  const { athleteId } = hub.athletes[0]!;
  hub.pass(360);
  hub.hub.addMark({ athleteId, kind: 'contraction', atMs: null, text: null });
  hub.pass(140);
  hub.hub.endSession();
  const { sessions } = (await (await fetchAsOwn(`${hub.url}/api/sessions`)).json()) as SessionsBody;
  return { hub, path: `/recordings/${sessions[0]!.session.sessionId}` };
}
