// The frame round every view: label and cautions, navigation, the SIMULATED band, the page's own alarm, notices.

import { useSignal } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { matchPath } from '../../shared/page-paths.ts';
import { useApp } from '../app/app-context.ts';
import { isSchool } from '../app/is-school.ts';
import { CautionsList } from '../components/cautions-list.tsx';
import { Dialog } from '../components/dialog.tsx';
import { HandNewsLine } from '../components/hands-free.tsx';
import { Notices } from '../components/notices.tsx';
import { SimulatedBand } from '../components/simulated-band.tsx';
import { isLanguage, offeredLanguages } from '../i18n/languages.ts';
import type { ThemeChoice } from '../state/preferences.ts';
import { JoinView } from '../views/join/join-view.tsx';
import { CoachWordsShown } from './coach-words.tsx';
import { EmergencyButton } from './emergency-button.tsx';
import { PlanBand } from './plan-band.tsx';
import { type Route, routes } from './routes.tsx';
import { SpokenHolds } from './spoken-holds.tsx';
import { TakeBackBar } from './take-back-bar.tsx';

function currentRoute(path: string): { route: Route; parts: Readonly<Record<string, string>> } | null {
  for (const route of routes) {
    const parts = matchPath(route.pattern, path);
    if (parts !== null) return { route, parts };
  }
  return null;
}

export function Shell() {
  const { text, router, hub, alarmPlace } = useApp();
  const path = router.path.value;
  const found = currentRoute(path);
  const main = useRef<HTMLElement>(null);
  const firstPath = useRef(path);
  // A new view starts at its beginning for keyboard and screen reader too. Before the paint: afterwards it would take the focus
  // from whoever is in a field of it already.
  useLayoutEffect(() => {
    if (firstPath.current === path) return;
    firstPath.current = '';
    main.current?.focus({ preventScroll: true });
  }, [path]);
  return (
    <div class={`frame${found?.route.fillsWindow ? ' frame--fills' : ''}`}>
      <a class="skip" href="#content">
        {text.skipToContent}
      </a>
      <div ref={alarmPlace.restIn} />
      <TopBar path={found?.route.under ?? path} />
      <SimulatedBand />
      <PlanBand />
      <SpokenHolds />
      <CoachWordsShown />
      <HandNewsLine />
      <Notices />
      <TakeBackBar />
      <main id="content" ref={main} tabIndex={-1} aria-busy={hub.link.value === 'connecting'}>
        {hub.link.value === 'refused' && found?.route.withoutHub !== true ? (
          <JoinView />
        ) : found === null ? (
          <NotFound />
        ) : (
          found.route.view(found.parts)
        )}
      </main>
    </div>
  );
}

function NotFound() {
  const { text } = useApp();
  return (
    <section class="sheet sheet--centred">
      <h1 class="quiet-title">{text.notFound}</h1>
      <a class="button" href="/">
        {text.toStart}
      </a>
    </section>
  );
}

function TopBar({ path }: { readonly path: string }) {
  const { text, hub } = useApp();
  const menuOpen = useSignal(false);
  const cautionsOpen = useSignal(false);
  // Before the paint: a menu opened as soon as the new view is seen stays open.
  useLayoutEffect(() => {
    menuOpen.value = false;
  }, [path]);
  return (
    <header class="top-bar">
      <a class="brand" href="/" aria-label={text.name}>
        <svg viewBox="0 0 32 32" aria-hidden="true">
          <path d="M4 12c4.5-4.5 7.5 4.5 12 0s7.5 4.5 12 0" />
          <path d="M4 21h24" />
        </svg>
        <span class="brand-name">{text.name}</span>
      </a>
      <button type="button" class="label-button" onClick={() => (cautionsOpen.value = true)}>
        {text.notMedicalDevice}
        <span class="label-more">{text.cautionsLink}</span>
      </button>
      <EmergencyButton />
      <span class={`link-state link-state--${hub.link.value}`}>
        {(isSchool() ? text.rooms.link : text.link)[hub.link.value]}
      </span>
      <button
        type="button"
        class="button menu-button"
        aria-expanded={menuOpen.value}
        aria-controls="navigation"
        onClick={() => (menuOpen.value = !menuOpen.value)}
      >
        {text.menu}
      </button>
      <nav id="navigation" class={menuOpen.value ? 'is-open' : ''} aria-label={text.mainNavigation}>
        {routes.map((route) =>
          route.navigation === undefined ||
          (isSchool() ? route.ofHub : route.atSchool) ||
          (route.ofWholeSchool && hub.isOfSomeRooms.value) ||
          (route.forCoach && hub.role.value !== 'coach') ? null : (
            <a
              key={route.pattern}
              href={route.pattern}
              aria-current={isWithin(path, route.pattern) ? 'page' : undefined}
              onClick={() => (menuOpen.value = false)}
            >
              {route.navigation(text)}
            </a>
          ),
        )}
        <DisplayChoices path={path} />
      </nav>
      {cautionsOpen.value ? (
        <Dialog title={text.notMedicalDevice} onClose={() => (cautionsOpen.value = false)}>
          <p>{text.about.label}</p>
          <CautionsList />
        </Dialog>
      ) : null}
    </header>
  );
}

const themeChoices: readonly ThemeChoice[] = ['system', 'light', 'dark'];

/** Theme and language. Behind one word, because both beside the names of all views do not fit. */
function DisplayChoices({ path }: { readonly path: string }) {
  const { text, preferences, language } = useApp();
  const open = useSignal(false);
  useLayoutEffect(() => {
    open.value = false;
  }, [path]);
  return (
    <details
      class="display-choices"
      open={open.value}
      onToggle={(event) => (open.value = event.currentTarget.open)}
    >
      <summary>{text.display}</summary>
      <div class="display-panel">
        <label class="display-choice">
          <span>{text.theme.label}</span>
          <select
            value={preferences.theme.value}
            onChange={(event) => {
              preferences.theme.value = chosenOf(themeChoices, event.currentTarget.value) ?? 'system';
            }}
          >
            {themeChoices.map((choice) => (
              <option key={choice} value={choice}>
                {text.theme[choice]}
              </option>
            ))}
          </select>
        </label>
        <label class="display-choice">
          <span>{text.language.label}</span>
          <select
            value={preferences.language.value}
            onChange={(event) => {
              const { value } = event.currentTarget;
              preferences.language.value = isLanguage(value) ? value : 'system';
            }}
          >
            <option value="system">{text.language.system}</option>
            {Object.entries(offeredLanguages).map(([tag, ownName]) => (
              <option key={tag} value={tag} lang={tag}>
                {ownName}
              </option>
            ))}
          </select>
        </label>
        {language.failed.value ? <p class="hint">{text.language.failed}</p> : null}
      </div>
    </details>
  );
}

function chosenOf<Choice extends string>(choices: readonly Choice[], value: string): Choice | undefined {
  return choices.find((choice) => choice === value);
}

function isWithin(path: string, pattern: string): boolean {
  return pattern === '/' ? path === '/' : path === pattern || path.startsWith(`${pattern}/`);
}
