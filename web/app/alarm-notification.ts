// A notice of the system while an alarm calls and the page is not looked at, where the browser allows it and a person asked for it.

import { effect, type ReadonlySignal, type Signal, signal } from '@preact/signals';
import type { OfflineShell } from './offline-shell.ts';

export type NotificationState = NotificationPermission | 'impossible';

/** One at a time: the alarms of the page are in the page. */
const tag = 'slackwater-alarm';

export class AlarmNotification {
  readonly state: Signal<NotificationState>;
  readonly #shell: OfflineShell;
  #shown = false;

  /** `alarm` names what calls, null while nothing does. */
  constructor(shell: OfflineShell, alarm: ReadonlySignal<string | null>, body: () => string) {
    this.#shell = shell;
    this.state = signal('Notification' in globalThis ? Notification.permission : 'impossible');
    effect(() => {
      const title = alarm.value;
      if (title === null) void this.#takeBack();
      else if (document.visibilityState === 'hidden') void this.#show(title, body());
    });
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState === 'visible') void this.#takeBack();
      else if (alarm.peek() !== null) void this.#show(alarm.peek()!, body());
    });
  }

  /** In answer to a tap: browsers ask at no other time. */
  async ask(): Promise<void> {
    if (this.state.value === 'impossible') return;
    this.state.value = await Notification.requestPermission();
  }

  async #show(title: string, body: string): Promise<void> {
    const { registration } = this.#shell;
    if (this.state.value !== 'granted' || registration === null) return;
    this.#shown = true;
    // A replaced notice is silent unless told otherwise; one that a person may miss stays until it is tapped.
    const options = { body, tag, renotify: true, requireInteraction: true, icon: '/app-192.png' };
    await registration.showNotification(title, options).catch(() => undefined);
  }

  async #takeBack(): Promise<void> {
    if (!this.#shown) return;
    this.#shown = false;
    for (const notice of (await this.#shell.registration?.getNotifications({ tag })) ?? []) notice.close();
  }
}
