// A page without a browser: the page's own connection, state and way of telling what it presents, over a real socket to a
// real hub, on a test's clock. It draws and sounds whatever its state says; a real browser's drawing is tests/browser's.

import { WebSocket } from 'ws';
import type { Clock } from '../../../hub/base/ports/clock.ts';
import type { UpMessage } from '../../../shared/messages/up.ts';
import type { AlarmPriority } from '../../../shared/schema-parts.ts';
import { HubConnection } from '../../../web/connection/hub-connection.ts';
import { tellOutputs } from '../../../web/connection/tell-outputs.ts';
import type { Timers } from '../../../web/connection/timers.ts';
import { HubRequests } from '../../../web/state/hub-requests.ts';
import { HubState } from '../../../web/state/hub-state.ts';
import { MarkOutbox } from '../../../web/state/mark-outbox.ts';
import { PlanRunFollower } from '../../../web/state/plan-run-follower.ts';

const tickMs = 200;

export interface LivePage {
  readonly state: HubState;
  readonly outbox: MarkOutbox;
  /** What its sound plays now. */
  readonly sounding: AlarmPriority | null;
  /** How many messages it has had. */
  readonly receivedCount: number;
  /** How many of its messages did not meet the contract. */
  readonly malformedCount: number;
  ask(make: (requestId: string) => UpMessage): Promise<{ readonly type: string }>;
  /** As when a network breaks: the page notices and connects again by itself. */
  cut(): void;
  close(): void;
}

export function openLivePage(url: string, cookie: string, clock: Clock, name: string): LivePage {
  const timers: Timers = {
    nowMs: () => clock.nowMs(),
    after: (delayMs, callback) => clock.after(delayMs, callback),
    every: (intervalMs, callback) => clock.every(intervalMs, callback),
  };
  let socket: WebSocket | undefined;
  let receivedCount = 0;
  let malformedCount = 0;
  let requestCount = 0;
  const newRequestId = () => `${name}-${++requestCount}`;
  const send = (message: UpMessage): boolean => connection.send(message);
  const outbox = new MarkOutbox(send, newRequestId);
  const requests = new HubRequests({ send, timers, newRequestId });
  const state = new HubState({ outbox, requests, planRun: new PlanRunFollower(timers) });
  const connection: HubConnection = new HubConnection({
    openSocket(listener) {
      const opened = new WebSocket(`${url.replace(/^http/, 'ws')}/ws`, {
        headers: { cookie },
        rejectUnauthorized: false,
      });
      socket = opened;
      opened.on('open', () => listener.opened());
      opened.on('message', (data, isBinary) => {
        receivedCount += 1;
        listener.received(isBinary ? new Uint8Array(data as Buffer) : String(data));
      });
      opened.on('close', (code) => listener.closed(code));
      opened.on('error', () => undefined);
      return { send: (text) => opened.send(text), close: () => opened.close() };
    },
    timers,
    random: () => 0.5,
    resume: () => state.resume(),
    pageState: () => ({
      visible: true,
      soundReady: true,
      presented: presentedOf(state),
      sounding: state.soundPriority.value,
    }),
    onMessage: (message, nowMs) => state.apply(message, nowMs),
    onMalformed: () => {
      malformedCount += 1;
    },
    onLink: (link) => state.linkChanged(link, timers.nowMs()),
  });
  const stopTicking = timers.every(tickMs, () => state.tick(timers.nowMs()));
  const stopTelling = tellOutputs([state.alarmEntries, state.soundPriority], timers, () =>
    connection.sendPageState(),
  );
  connection.start();
  return {
    state,
    outbox,
    get sounding() {
      return state.soundPriority.value;
    },
    get receivedCount() {
      return receivedCount;
    },
    get malformedCount() {
      return malformedCount;
    },
    ask: (make) => requests.ask(make),
    cut: () => socket?.terminate(),
    close() {
      stopTicking();
      stopTelling();
      connection.stop();
      socket?.terminate();
    },
  };
}

/** As the frame's `data-presents` says it, were everything drawn. */
function presentedOf(state: HubState): { athleteId: string | null; alarmIds: string[] }[] {
  const byAthlete = new Map<string | null, string[]>();
  for (const { presents } of state.alarmEntries.value)
    for (const { athleteId, alarmId } of presents)
      byAthlete.set(athleteId, [...(byAthlete.get(athleteId) ?? []), alarmId]);
  return [...byAthlete].map(([athleteId, alarmIds]) => ({ athleteId, alarmIds: alarmIds.slice(0, 100) }));
}
