// What a person can tell the hub from any view: marks, undo, acknowledge, pause, settings, start and end.

import type { UpMessage } from '../../shared/messages/up.ts';
import { said } from '../../shared/said.ts';
import type { MarkKind } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { AthleteSettings, HoldFeeling } from '../../shared/views.ts';
import type { AlarmSounder } from '../audio/alarm-sounder.ts';
import type { Timers } from '../connection/timers.ts';
import type { Answer, HubRequests } from '../state/hub-requests.ts';
import type { HubState } from '../state/hub-state.ts';
import type { MarkOutbox } from '../state/mark-outbox.ts';

export interface CommandParts {
  readonly hub: HubState;
  readonly outbox: MarkOutbox;
  readonly requests: HubRequests;
  readonly sounder: AlarmSounder;
  readonly timers: Timers;
  /** Who leads what is begun here, where somebody has said so. */
  readonly ledBy: () => string[] | undefined;
}

export class Commands {
  readonly #parts: CommandParts;

  constructor(parts: CommandParts) {
    this.#parts = parts;
  }

  /** Marks at the time meant, else now by the page's estimate of the session's time, with a soft tone and a tick where there is one. */
  mark(
    athleteId: string,
    kind: MarkKind,
    text: string | null = null,
    meantAtMs: MonotonicMs | null = null,
  ): void {
    const { hub, outbox, sounder, timers } = this.#parts;
    const pageNowMs = timers.nowMs();
    const atMs = meantAtMs ?? hub.clock.nowMs(pageNowMs);
    if (atMs === null || !hub.recording.value || !hub.mayAct.value) return;
    outbox.add(athleteId, kind, atMs, text, pageNowMs);
    sounder.confirmTone(kind !== 'holdEnd');
    navigator.vibrate?.(kind === 'contraction' ? 30 : 60);
  }

  /** What the one big control would mark now: an end during a hold, a start otherwise. */
  nextBoundary(athleteId: string): 'holdStart' | 'holdEnd' {
    const { hub, outbox } = this.#parts;
    const pending = outbox.pending.value.findLast(
      (mark) => mark.athleteId === athleteId && (mark.kind === 'holdStart' || mark.kind === 'holdEnd'),
    );
    if (pending !== undefined) return pending.kind === 'holdStart' ? 'holdEnd' : 'holdStart';
    return hub.athleteById(athleteId)?.currentHold() ? 'holdEnd' : 'holdStart';
  }

  /** Takes back the last mark made on this page for the athlete. */
  undo(athleteId: string): void {
    const mark = this.#parts.outbox.own.value.findLast((entry) => entry.athleteId === athleteId);
    if (mark !== undefined)
      void this.#request((requestId) => ({ type: 'removeMark', requestId, markId: mark.markId }));
  }

  /** How a hold that is over felt. */
  rateHold(athleteId: string, holdId: string, feeling: HoldFeeling): void {
    void this.#request((requestId) => ({ type: 'rateHold', requestId, athleteId, holdId, feeling }));
  }

  /** Acknowledges the alarms that the page has shown long enough to have been seen; a newer one sounds on. */
  acknowledge(athleteId: string): void {
    const { hub, timers } = this.#parts;
    const alarmIds = hub.athleteById(athleteId)?.seenAlarmIds(timers.nowMs()).slice(0, 50) ?? [];
    if (alarmIds.length === 0) return;
    void this.#request((requestId) => ({ type: 'acknowledgeAlarms', requestId, athleteId, alarmIds }));
  }

  /** Of the watching itself. Who may not answer for all is heard no more on this page alone. */
  acknowledgeSupervision(alarmIds: readonly string[]): void {
    const { hub } = this.#parts;
    const own = alarmIds.filter((id) => hub.ownSupervision.value.some(({ alarmId }) => alarmId === id));
    if (own.length > 0) hub.hush(own);
    const told = alarmIds.filter((id) => !own.includes(id));
    if (told.length === 0) return;
    if (hub.role.value !== 'coach' || hub.hubSilent.value) hub.hush(told);
    else
      void this.#request((requestId) => ({
        type: 'acknowledgeSupervision',
        requestId,
        alarmIds: [...told],
      }));
  }

  /** The athlete, or somebody by them, says that they answer. */
  answer(athleteId: string): void {
    this.mark(athleteId, 'answered');
  }

  /** Of what one entry of the frame shows: those that stood long enough to have been seen, each athlete's by itself. */
  acknowledgeEach(alarms: readonly { readonly athleteId: string; readonly alarmId: string }[]): void {
    const { hub, timers } = this.#parts;
    for (const athleteId of new Set(alarms.map((alarm) => alarm.athleteId))) {
      const seen = new Set(hub.athleteById(athleteId)?.seenAlarmIds(timers.nowMs()));
      const alarmIds = alarms
        .filter((alarm) => alarm.athleteId === athleteId && seen.has(alarm.alarmId))
        .map(({ alarmId }) => alarmId)
        .slice(0, 50);
      if (alarmIds.length > 0)
        void this.#request((requestId) => ({ type: 'acknowledgeAlarms', requestId, athleteId, alarmIds }));
    }
  }

  pauseSound(athleteId: string, paused: boolean): void {
    void this.#request((requestId) => ({ type: 'pauseAudio', requestId, athleteId, paused }));
  }

  changeSettings(athleteId: string, settings: AthleteSettings): Promise<Answer> {
    return this.#request((requestId) => ({ type: 'changeSettings', requestId, athleteId, settings }));
  }

  startSession(athleteIds: readonly string[], title: string): Promise<Answer> {
    const ledBy = this.#parts.ledBy();
    return this.#request((requestId) => ({
      type: 'startSession',
      requestId,
      athleteIds: [...athleteIds],
      title,
      ...(ledBy !== undefined && { ledBy }),
    }));
  }

  endSession(): void {
    void this.#request((requestId) => ({ type: 'endSession', requestId }));
  }

  /** What the hub refuses, it says itself; that it has not answered is said here. */
  async #request(make: (requestId: string) => UpMessage): Promise<Answer> {
    const { requests, hub } = this.#parts;
    if (!hub.mayAct.value) return { type: 'refused', said: null };
    const answer = await requests.ask(make);
    if (answer.type === 'unanswered') hub.refuse(said('page.hubNotAnswering'));
    return answer;
  }
}
