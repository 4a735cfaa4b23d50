// Wires the page together: connection, state, sound, clock, and the shell. The only file that runs on load.

// Styles first: what views and components bring along comes after and may refine them.
import './styles/tokens.css';
import './styles/base.css';
import './styles/shared.css';
import './styles/shell.css';

import { computed, effect, signal } from '@preact/signals';
import { render } from 'preact';
import type { UpMessage } from '../shared/messages/up.ts';
import { AlarmNotification } from './app/alarm-notification.ts';
import { AlarmPlace } from './app/alarm-place.ts';
import { type App, AppContext } from './app/app-context.ts';
import { Commands } from './app/commands.ts';
import { CueSpeaking } from './app/cue-speaking.ts';
import { HandsFree } from './app/hands-free.ts';
import { Installing } from './app/installing.ts';
import { isSchool } from './app/is-school.ts';
import { LanguageSetting } from './app/language-setting.ts';
import { loadRemainingViews } from './app/lazy-view.tsx';
import { OfflineShell } from './app/offline-shell.ts';
import { takeOwnCode } from './app/own-person.ts';
import { PageTitle } from './app/page-title.ts';
import { PlanCues } from './app/plan-cues.ts';
import { Router } from './app/router.ts';
import { Screen } from './app/screen.ts';
import { SpokenAlarms } from './app/spoken-alarms.ts';
import { WakeLock } from './app/wake-lock.ts';
import { AlarmSounder } from './audio/alarm-sounder.ts';
import { AlarmVibration } from './audio/alarm-vibration.ts';
import { hushAloud, sayAloud } from './audio/aloud.ts';
import { CuePlayer } from './audio/cue-player.ts';
import { alarmTitle } from './components/alarm-title.ts';
import { entryWords } from './components/entry-words.ts';
import { askAgainWhenBusy } from './connection/ask-again.ts';
import { openBrowserSocket } from './connection/browser-socket.ts';
import { HubConnection } from './connection/hub-connection.ts';
import { HubHttp } from './connection/hub-http.ts';
import { tellOutputs } from './connection/tell-outputs.ts';
import { browserTimers } from './connection/timers.ts';
import { AlarmFrame } from './shell/alarm-frame.tsx';
import { Shell } from './shell/shell.tsx';
import { higherPriority } from './state/alarm-order.ts';
import { CuePreferences } from './state/cue-preferences.ts';
import { Drafts } from './state/drafts.ts';
import { followSaving } from './state/follow-saving.ts';
import { HubRequests } from './state/hub-requests.ts';
import { HubState, pageTickMs } from './state/hub-state.ts';
import { HurriedHand } from './state/hurried-hand.ts';
import { typedLeaders } from './state/leader-names.ts';
import { MarkOutbox } from './state/mark-outbox.ts';
import { PlanRunFollower } from './state/plan-run-follower.ts';
import { Preferences } from './state/preferences.ts';
import { type AthleteEntry, isCalling } from './state/standing-alarms.ts';
import { TakeBacks } from './state/take-backs.ts';
import { inPlaces } from './state/wall-order.ts';
import { watchedSessionIn } from './state/watched-session.ts';

const timers = browserTimers;
// randomUUID exists in secure contexts only, and a hub on a home network may be plain HTTP.
const newRequestId = () => `${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 10)}`;
const audioRunning = signal(false);
const soundChecked = signal(false);
const sounder = new AlarmSounder((running) => {
  audioRunning.value = running;
});
const send = (message: UpMessage): boolean => {
  hub.unsaved.asked(message, (markId) => {
    const mark = outbox.own.value.find((each) => each.markId === markId);
    return mark && { type: 'mark', athleteId: mark.athleteId, kind: mark.kind, atMs: mark.atMs };
  });
  return connection.send(message);
};
const outbox = new MarkOutbox(send, newRequestId);
const requests = new HubRequests({ send, timers, newRequestId });
const planRun = new PlanRunFollower(timers);
const hub: HubState = new HubState({
  outbox,
  requests,
  planRun,
  watchedSession: watchedSessionIn(sessionStorage, localStorage, Date.now),
});
const alarmPlace = new AlarmPlace();
const connection: HubConnection = new HubConnection({
  openSocket: openBrowserSocket,
  timers,
  random: Math.random,
  resume: () => hub.resume(),
  pageState: () => ({
    visible: document.visibilityState === 'visible',
    soundReady: soundChecked.value && sounder.running,
    presented: alarmPlace.presented(),
    sounding: sounder.sounding,
  }),
  onMessage: (message, pageNowMs) => hub.apply(message, pageNowMs),
  onMalformed: (reason) => hub.malformedReceived(reason),
  onLink: (link) => hub.linkChanged(link, timers.nowMs()),
});

const preferences = new Preferences(localStorage);
const systemDark = signal(matchMedia('(prefers-color-scheme: dark)').matches);
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', (event) => {
  systemDark.value = event.matches;
});
const theme = computed(() =>
  preferences.theme.value === 'system' ? (systemDark.value ? 'dark' : 'light') : preferences.theme.value,
);
effect(() => {
  document.documentElement.dataset.theme = theme.value;
});

const language = new LanguageSetting(preferences, navigator.languages, timers);

const http = new HubHttp(
  askAgainWhenBusy((path, init) => fetch(path, init), timers),
  language.say,
  {
    setAside: (records) => hub.recordsSetAside(records),
    unsaved: (change) => hub.unsaved.httpUnsaved(change),
  },
);
followSaving({
  unsaved: hub.unsaved,
  isLive: () => hub.link.value === 'live',
  ask: () => http.saved(),
  timers,
});
const cuePreferences = new CuePreferences(localStorage);
const cueSpeaking = new CueSpeaking({
  hub,
  storage: sessionStorage,
  newId: newRequestId,
  take: (speakerId, takes) =>
    void requests.ask((requestId) => ({ type: 'takeCues', requestId, speakerId, takes })),
});
const planCues = new PlanCues({
  speaking: cueSpeaking,
  follower: planRun,
  preferences: cuePreferences,
  memory: sessionStorage,
  player: new CuePlayer({
    preferences: cuePreferences,
    language: language.language,
    say: language.say,
    yields: () => spokenAlarms.speaking,
    fetchSpoken: (kind) => http.spokenCue(kind, language.language.peek()),
  }),
});
/** Who is meant, as a person asked to hear it; nobody where one cause concerns all. */
function calledBy({ common, athletes }: AthleteEntry, choice: 'names' | 'places'): string {
  if (common === 'all') return '';
  const placed = inPlaces(hub.athletes.value, preferences.wallOrder.value);
  const { mat } = language.text.value.spokenAlarms;
  const callOf = ({ athleteId, name }: AthleteEntry['athletes'][number]): string =>
    choice === 'names' ? name : mat(placed.findIndex((each) => each.athleteId === athleteId) + 1);
  return athletes.map(callOf).join(', ');
}
const spokenAlarms: SpokenAlarms = new SpokenAlarms({
  choice: () => preferences.spokenAlarms.value,
  entries: () => hub.alarmEntries.value,
  sounding: () => hub.soundPriority.value,
  sentence: (entry, choice) => {
    const text = language.text.value;
    return text.spokenAlarms.says(calledBy(entry, choice), alarmTitle(entry.first, text));
  },
  speak: (sentence, over) => sayAloud(sentence, language.language.value, over),
  hush: hushAloud,
});
/** What the tab names: the page's own alarm, else the first that calls. */
const calling = computed(() => {
  const text = language.text.value;
  if (hub.pageAlarm.value) return text.pageAlarm.title;
  const first = hub.alarmEntries.value.find(isCalling);
  return first === undefined ? null : entryWords(first, text, language.say, true).title;
});
const pageTitle = new PageTitle(
  calling,
  (view, alarm) => {
    const text = language.text.value;
    const whole = view === '' ? text.name : `${view} \u2013 ${text.name}`;
    return alarm === null ? whole : text.frame.tab(alarm, whole);
  },
  document.querySelector<HTMLLinkElement>('link[rel="icon"]'),
);

const offlineShell = new OfflineShell();
const wakeLock = new WakeLock();

const router = new Router();
const ledBy = () => typedLeaders(preferences.ledBy.value);
const commands = new Commands({ hub, outbox, requests, sounder, timers, ledBy });
const handsFree = new HandsFree({
  storage: localStorage,
  hub,
  commands,
  path: () => router.path.value,
});

const app: App = {
  get text() {
    return language.text.value;
  },
  language,
  say: language.say,
  hub,
  outbox,
  planRun,
  connection,
  http,
  commands,
  sounder,
  audioRunning,
  soundChecked,
  preferences,
  theme,
  router,
  screen: new Screen(),
  pageTitle,
  alarmPlace,
  planCues,
  handsFree,
  offlineShell,
  alarmNotification: new AlarmNotification(offlineShell, calling, () => language.text.value.name),
  installing: new Installing(),
  wakeLock,
  timers,
  rooms: signal(null),
  takeBacks: new TakeBacks(timers),
  hurriedHand: new HurriedHand(),
  drafts: new Drafts(localStorage, Date.now),
};

const vibration = new AlarmVibration((patternMs) => {
  // Before a first touch browsers allow no vibration and complain of the attempt.
  if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.(patternMs);
});
timers.every(pageTickMs, () => {
  hub.tick(timers.nowMs());
  sounder.pump();
  spokenAlarms.update(timers.nowMs());
  vibration.update(hub.soundPriority.value, timers.nowMs());
});
effect(() =>
  sounder.sound(higherPriority(hub.soundPriority.value, app.rooms.value?.soundPriority.value ?? null)),
);
// The hub counts this page for no more than what it was told: of a sound that a browser took away it hears at once too.
tellOutputs([hub.alarmEntries, hub.soundPriority, audioRunning, soundChecked], timers, () =>
  connection.sendPageState(),
);
effect(() => wakeLock.keepAwake(hub.recording.value));
// Any touch or key lets the browser sound from then on; the check still asks whether it was heard.
for (const gesture of ['pointerdown', 'keydown']) {
  addEventListener(
    gesture,
    () => {
      if (!audioRunning.value) void sounder.unlock();
      planCues.player.unlock();
      handsFree.unlock();
    },
    { capture: true },
  );
}
document.addEventListener('visibilitychange', () => {
  connection.sendPageState();
  connection.check();
  // A phone may have suspended the sound while the page was away.
  if (soundChecked.value && document.visibilityState === 'visible') void sounder.unlock();
});

/** In a moment in which nothing waits to be drawn, or after 5 s (our choice); at once where a browser tells no such moments. */
const whenIdle = (does: () => void): void => {
  if (typeof requestIdleCallback === 'function') requestIdleCallback(does, { timeout: 5_000 });
  else does();
};
// Once the page has its first readings there is time for the views that are not on the screen, and for keeping them.
effect(() => {
  if (hub.link.value === 'live')
    timers.after(1_500, () => whenIdle(() => void loadRemainingViews().then(() => offlineShell.keep())));
});
const ownCode = takeOwnCode();
// Before anything else asks the hub, so that it asks as the hub's own person. Refused: the page says how to come in.
const entered = ownCode === undefined ? Promise.resolve() : app.http.enterAsOwnPerson(ownCode);
void entered.then(() => {
  planRun.start();
  connection.start();
  if (isSchool()) void startRooms();
});

/** Loaded at a school only. */
async function startRooms(): Promise<void> {
  const [{ RoomsFollower }, { RoomAlarms }] = await Promise.all([
    import('./app/rooms.ts'),
    import('./shell/room-alarms.tsx'),
  ]);
  const follower = new RoomsFollower(app);
  app.rooms.value = follower;
  follower.start();
  const host = document.createElement('div');
  alarmPlace.host.append(host);
  render(
    <AppContext.Provider value={app}>
      <RoomAlarms follower={follower} />
    </AppContext.Provider>,
    host,
  );
}

/** A change of language makes the page anew, so that charts and whatever else has kept a word take the new one. */
function Page() {
  return (
    <AppContext.Provider value={app}>
      <Shell key={language.language.value} />
    </AppContext.Provider>
  );
}
/** In a tree of its own: a view that breaks leaves the alarms standing, and a dialog can take them in. */
function Alarms() {
  return (
    <AppContext.Provider value={app}>
      <AlarmFrame key={language.language.value} />
    </AppContext.Provider>
  );
}
void language.start().then(() => {
  render(<Alarms />, alarmPlace.host);
  render(<Page />, document.getElementById('page')!);
});
