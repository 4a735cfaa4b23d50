// Following a run: the page's run equals the hub's, cues come once and on time, events that arrive late fall in place.

import { expect, test } from 'vitest';
import type { CurrentPlanRunBody, PlanRunEvent } from '../../shared/plan-run.ts';
import { monotonicMs } from '../../shared/units.ts';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { createPlanRun, stepPlanRun } from '../../src/plans/plan-run.ts';
import { PlanRunFollower } from '../../web/state/plan-run-follower.ts';

const options = {
  athletes: [{ athleteId: 'mara', offsetMs: 0 }],
  oneAtATime: false,
  assumeFromCues: false,
  acceptedWarnings: [],
};

/** A hub made of the core alone, which sends a page what is new when told to. */
function room(timeScale = 1) {
  const plan = makeIntervalSeries(2, 240);
  const created = createPlanRun(plan, 0, options);
  if (!created.ok) throw new Error('needs a choice');
  let hubState = created.value;
  let hubNowMs = 0;
  let pageNowMs = 5_000;
  let runId = 'run-1';
  const events: PlanRunEvent[] = [];
  const cues: string[] = [];
  let sentCount = 0;
  const follower = new PlanRunFollower({ nowMs: () => pageNowMs, every: () => () => undefined });
  follower.onCue((cue) => cues.push(`${cue.atMs / 1_000} ${cue.kind}`));
  const current = (since: number): CurrentPlanRunBody => {
    const from = since <= events.length ? since : 0;
    return {
      run: {
        runId,
        sessionId: null,
        startedWallAtMs: 0,
        endedAtMs: hubState.ended ? hubState.nowMs : null,
        plan,
        options,
      },
      nowMs: hubNowMs,
      timeScale,
      since: from,
      events: events.slice(from),
    };
  };
  return {
    follower,
    cues,
    pass(ms: number) {
      hubNowMs += ms;
      pageNowMs += ms / timeScale;
      hubState = stepPlanRun(hubState, { type: 'time', atMs: monotonicMs(hubNowMs) }).state;
      follower.tick();
    },
    take(event: PlanRunEvent) {
      const step = stepPlanRun(hubState, { ...event, atMs: monotonicMs(hubNowMs) });
      hubState = step.state;
      events.push(step.taken);
    },
    /** The hub sends what is new since it last did. */
    send() {
      follower.take(current(sentCount));
      sentCount = events.length;
    },
    restart() {
      runId = 'run-2';
      sentCount = 0;
      events.length = 0;
      hubNowMs = 0;
      hubState = created.ok ? created.value : hubState;
    },
    get hubState() {
      return hubState;
    },
  };
}

const started = {
  type: 'holdStarted',
  athleteId: 'mara',
  holdId: 'h',
  startedAtMs: monotonicMs(121_000),
  source: 'mark',
  atMs: monotonicMs(0),
} as const;

test('cues of the countdown come once each, on the page’s own clock', () => {
  const { cues, pass, send } = room();
  send();
  for (let passed = 0; passed < 1_250; passed += 1) pass(100);
  expect(cues).toEqual(['60 prepare', '110 countdown', '117 tick', '118 tick', '119 tick', '120 start']);
});

test('an event heard late falls in its place: the page’s run is the hub’s', () => {
  const hub = room();
  const { follower, pass, take, send } = hub;
  send();
  for (let passed = 0; passed < 1_220; passed += 1) pass(100);
  take(started);
  // The network hangs for 40 s.
  for (let passed = 0; passed < 400; passed += 1) pass(100);
  expect(follower.state.value?.athleteRuns[0]?.phase).toBe('open');
  send();
  expect(follower.state.value?.athleteRuns[0]?.phase).toBe('holding');
  take({ type: 'abort', athleteId: 'mara', atMs: monotonicMs(0) });
  send();
  expect(follower.suggestions.value.map((suggestion) => suggestion.kind)).toEqual(['stop']);
  expect(follower.state.value?.athleteRuns).toEqual(hub.hubState.athleteRuns);
});

test('cues long past are not given to a page that opens late', () => {
  const { cues, pass, send } = room();
  for (let passed = 0; passed < 90; passed += 1) pass(1_000);
  send();
  expect(cues).toEqual([]);
  for (let passed = 0; passed < 25; passed += 1) pass(1_000);
  expect(cues).toEqual(['110 countdown']);
});

test('at sixty times real time the page keeps up', () => {
  const { cues, pass, send } = room(60);
  send();
  for (let passed = 0; passed < 25; passed += 1) pass(6_000);
  expect(cues).toContain('120 start');
});

test('another run replaces the first', () => {
  const { follower, pass, take, restart, send } = room();
  send();
  for (let passed = 0; passed < 130; passed += 1) pass(1_000);
  take(started);
  send();
  restart();
  send();
  expect(follower.run.value?.runId).toBe('run-2');
  expect(follower.state.value?.athleteRuns[0]?.records).toEqual([]);
});
