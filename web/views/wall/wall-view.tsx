// The coach's wall: everyone in the session at once, whoever needs a look first at the front.

import { batch, effect, useComputed, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { PlanLink } from '../../components/plan-link.tsx';
import { SoundCheckUnlessAlarmed } from '../../components/sound-check.tsx';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { readingState } from '../../state/freshness.ts';
import { marginPercent } from '../../state/reading-text.ts';
import { orderByUrgency, urgency } from '../../state/urgency.ts';
import { WallTile } from './wall-tile.tsx';
import './wall.css';

/** A tile under a finger must not move away: the order rests this long after the last touch or key. */
const restAfterTouchMs = 1_500;
/** Between two changes of order, unless someone's alarm is new. */
const reorderIntervalMs = 2_000;

export function WallView() {
  const { text, hub } = useApp();
  const words = text.wall;
  useDocumentTitle(words.title);
  if (hub.session.value?.status !== 'recording' || hub.athletes.value.length === 0) {
    const ended = hub.endedSessionId.value;
    return (
      <section class="sheet sheet--centred">
        <h1 class="quiet-title">{ended === null ? words.empty : text.live.sessionEnded}</h1>
        {ended === null ? null : (
          <a class="button button--primary" href={`/recordings/${ended}`}>
            {text.live.openRecording}
          </a>
        )}
        <a class="button" href="/">
          {text.live.toSetup}
        </a>
      </section>
    );
  }
  return <Wall />;
}

function Wall() {
  const { text, hub, preferences, timers } = useApp();
  const words = text.wall;
  const lastTouchMs = useRef(Number.NEGATIVE_INFINITY);
  const order = useSignal<readonly string[]>(hub.athletes.value.map((model) => model.athleteId));

  useEffect(() => {
    let lastOrderMs = Number.NEGATIVE_INFINITY;
    let alarmed = new Set<string>();
    return effect(() => {
      // Runs with the page's tick; reads every athlete's urgency and changes the order only when it may.
      const pageNowMs = hub.pageNowMs.value;
      const pinned = new Set(preferences.pinnedAthleteIds.value);
      const models = hub.athletes.value;
      const urgencyOf = (model: AthleteModel) => {
        const { freshness } = readingState(
          model.spo2.value,
          hub.nowMs.value,
          hub.hubSilent.value,
          hub.hub.value?.timeScale ?? 1,
        );
        return urgency({
          alarms: model.alarms.value,
          phase: model.phase.value,
          spo2Freshness: freshness,
          marginPercent: marginPercent(
            model.spo2.value,
            model.athlete.value.settings.floorSpo2Percent,
            freshness,
          ),
          pinned: pinned.has(model.athleteId),
        });
      };
      const alarming = new Set(
        models
          .filter((model) => model.alarms.value.some((alarm) => !alarm.acknowledged))
          .map((model) => model.athleteId),
      );
      const newAlarm = [...alarming].some((athleteId) => !alarmed.has(athleteId));
      const touched = pageNowMs - lastTouchMs.current < restAfterTouchMs;
      if (touched || (!newAlarm && pageNowMs - lastOrderMs < reorderIntervalMs)) return;
      alarmed = alarming;
      lastOrderMs = pageNowMs;
      const next = orderByUrgency(models, urgencyOf).map((model) => model.athleteId);
      if (next.join() !== order.peek().join()) batch(() => (order.value = next));
    });
  }, []);

  const tiles = useComputed(() => {
    const known = new Map(hub.athletes.value.map((model) => [model.athleteId, model]));
    const placed = order.value.flatMap((athleteId) => known.get(athleteId) ?? []);
    return [...placed, ...hub.athletes.value.filter((model) => !order.value.includes(model.athleteId))];
  });
  const counts = useComputed(() => {
    const models = hub.athletes.value;
    const holding = models.filter((model) => model.phase.value === 'holding').length;
    const alarming = models.filter((model) => model.alarms.value.length > 0).length;
    return words.counts(models.length, holding, alarming);
  });
  const touch = () => {
    lastTouchMs.current = timers.nowMs();
  };
  return (
    <article class="wall" onPointerDown={touch} onKeyDown={touch}>
      <SoundCheckUnlessAlarmed />
      <header class="wall-head">
        <h1>{words.title}</h1>
        <p>{counts}</p>
        <PlanLink offer />
        <Presence />
      </header>
      <ol class={`tiles tiles--${tiles.value.length > 8 ? 'many' : tiles.value.length > 2 ? 'some' : 'few'}`}>
        {tiles.value.map((model) => (
          <li key={model.athleteId}>
            <WallTile model={model} />
          </li>
        ))}
      </ol>
      <p class="hint wall-help">{words.keysHelp}</p>
    </article>
  );
}

/** Who has a page open, and whose page cannot be relied on. Told to coaches only. */
function Presence() {
  const { text, hub } = useApp();
  const words = text.wall.presence;
  const own = hub.deviceId.value;
  // A coach at the hub's own machine need not be told of the screen in front of them.
  const others = hub.presence.value.filter((page) => page.deviceId !== null || own !== null);
  if (others.length === 0) return null;
  return (
    <ul class="presence">
      {others.map((page) => (
        <li key={`${page.deviceId}-${page.pageId}`} class={`presence-${page.state}`}>
          {words.of(
            page.deviceId === null ? words.ownMachine : page.name || text.role[page.role],
            page.deviceId !== null && page.deviceId === own ? words.thisDevice : words[page.state],
          )}
          {page.state === 'visible' && !page.soundReady ? `, ${words.noSound}` : ''}
        </li>
      ))}
    </ul>
  );
}
