// A page without a browser: the page's own connection and state, by which it alarms or shows that somebody watches.

import { WebSocket } from 'ws';
import { HubConnection } from '../../web/connection/hub-connection.ts';
import type { Timers } from '../../web/connection/timers.ts';
import { HubRequests } from '../../web/state/hub-requests.ts';
import { HubState } from '../../web/state/hub-state.ts';
import { MarkOutbox } from '../../web/state/mark-outbox.ts';
import { PlanRunFollower } from '../../web/state/plan-run-follower.ts';
import { ownCookieOf } from '../support/own-person.ts';

const timers: Timers = {
  nowMs: () => performance.now(),
  after(delayMs, callback) {
    const timer = setTimeout(callback, delayMs);
    return () => clearTimeout(timer);
  },
  every(intervalMs, callback) {
    const timer = setInterval(callback, intervalMs);
    return () => clearInterval(timer);
  },
};

export class ResumePage {
  readonly state = new HubState({
    outbox: new MarkOutbox(
      () => false,
      () => 'none',
    ),
    requests: new HubRequests({ send: () => false, timers, newRequestId: () => 'none' }),
    planRun: new PlanRunFollower(timers),
  });
  readonly connection: HubConnection;
  /** How often a hub has let this page in. */
  welcomeCount = 0;
  readonly #stopTicking: () => void;

  constructor(url: string) {
    const { state } = this;
    this.connection = new HubConnection({
      openSocket: (listener) => {
        const cookie = ownCookieOf(url);
        const socket = new WebSocket(`${url.replace(/^http/, 'ws')}/ws`, {
          headers: { origin: url, ...(cookie !== undefined && { cookie }) },
        });
        socket.on('open', () => listener.opened());
        socket.on('message', (data, isBinary) =>
          listener.received(isBinary ? new Uint8Array(data as Buffer) : String(data)),
        );
        socket.on('close', (code) => listener.closed(code));
        socket.on('error', () => undefined);
        return { send: (text) => socket.send(text), close: () => socket.terminate() };
      },
      timers,
      random: Math.random,
      resume: () => state.resume(),
      pageState: () => ({
        visible: true,
        soundReady: true,
        presented: state.alarmEntries.value
          .flatMap(({ presents }) => presents)
          .map(({ athleteId, alarmId }) => ({ athleteId, alarmIds: [alarmId] })),
        sounding: state.soundPriority.value,
      }),
      onMessage: (message, pageNowMs) => {
        if (message.type === 'welcome') this.welcomeCount += 1;
        state.apply(message, pageNowMs);
      },
      onMalformed: (reason) => state.malformedReceived(reason),
      onLink: (link) => state.linkChanged(link, timers.nowMs()),
    });
    this.connection.start();
    this.#stopTicking = timers.every(50, () => state.tick(timers.nowMs()));
  }

  close(): void {
    this.#stopTicking();
    this.connection.stop();
  }

  /** It alarms high by itself, or shows an alarm that the watching stopped. */
  get alarms(): boolean {
    const { pageAlarm, supervision, ownSupervision } = this.state;
    return (
      pageAlarm.value ||
      [...supervision.value, ...ownSupervision.value].some(
        ({ kind, priority, acknowledged }) =>
          kind === 'monitoringStopped' && priority === 'high' && !acknowledged,
      )
    );
  }

  /** It hears a hub that watches. */
  get watches(): boolean {
    return this.connection.link === 'live' && this.state.recording.value;
  }
}
