// What every view can reach: the hub's state, ways to talk to it, sound, preferences, the address. Made once in main.

import type { ReadonlySignal, Signal } from '@preact/signals';
import { createContext } from 'preact';
import { useContext } from 'preact/hooks';
import type { Said } from '../../shared/said.ts';
import type { AlarmSounder } from '../audio/alarm-sounder.ts';
import type { HubConnection } from '../connection/hub-connection.ts';
import type { HubHttp } from '../connection/hub-http.ts';
import type { Timers } from '../connection/timers.ts';
import type { Messages } from '../i18n/en.ts';
import type { Drafts } from '../state/drafts.ts';
import type { HubState } from '../state/hub-state.ts';
import type { HurriedHand } from '../state/hurried-hand.ts';
import type { MarkOutbox } from '../state/mark-outbox.ts';
import type { PlanRunFollower } from '../state/plan-run-follower.ts';
import type { Preferences } from '../state/preferences.ts';
import type { TakeBacks } from '../state/take-backs.ts';
import type { AlarmNotification } from './alarm-notification.ts';
import type { AlarmPlace } from './alarm-place.ts';
import type { Commands } from './commands.ts';
import type { HandsFree } from './hands-free.ts';
import type { Installing } from './installing.ts';
import type { LanguageSetting } from './language-setting.ts';
import type { OfflineShell } from './offline-shell.ts';
import type { PageTitle } from './page-title.ts';
import type { PlanCues } from './plan-cues.ts';
import type { RoomsFollower } from './rooms.ts';
import type { Router } from './router.ts';
import type { Screen } from './screen.ts';
import type { WakeLock } from './wake-lock.ts';

export interface App {
  /** The words of the language chosen; reading them in a component follows a change of it. */
  readonly text: Messages;
  readonly language: LanguageSetting;
  /** Words what hub or core said by code. */
  readonly say: (said: Said) => string;
  readonly hub: HubState;
  readonly outbox: MarkOutbox;
  /** The plan that the hub runs, kept up to date from the start of the page. */
  readonly planRun: PlanRunFollower;
  readonly connection: HubConnection;
  readonly http: HubHttp;
  readonly commands: Commands;
  readonly sounder: AlarmSounder;
  /** The browser lets this page sound. */
  readonly audioRunning: ReadonlySignal<boolean>;
  /** A person has heard the alarm on this device. */
  readonly soundChecked: Signal<boolean>;
  readonly preferences: Preferences;
  readonly theme: ReadonlySignal<'light' | 'dark'>;
  readonly router: Router;
  readonly screen: Screen;
  readonly pageTitle: PageTitle;
  /** Where the frame's alarms stand. */
  readonly alarmPlace: AlarmPlace;
  /** Cues of the plan that runs, given on every view once its page was opened. */
  readonly planCues: PlanCues;
  readonly offlineShell: OfflineShell;
  readonly alarmNotification: AlarmNotification;
  readonly installing: Installing;
  readonly wakeLock: WakeLock;
  /** Marks by a media key, a headset or a page turner. */
  readonly handsFree: HandsFree;
  readonly timers: Timers;
  /** What was just done here and can be taken back. */
  readonly takeBacks: TakeBacks;
  /** The rooms of a school, once they are loaded; null on the page of a hub. */
  readonly rooms: Signal<RoomsFollower | null>;
  /** Which presses on alarms are meant for what lies under them; one for the page and all rooms on it. */
  readonly hurriedHand: HurriedHand;
  /** What was written here and not saved. */
  readonly drafts: Drafts;
}

export const AppContext = createContext<App | null>(null);

/** The app of the page. Throws outside the shell, which would be a fault of ours. */
export function useApp(): App {
  const app = useContext(AppContext);
  if (app === null) throw new Error('useApp outside the shell');
  return app;
}
