// In place of setting up while a session runs: the way to it.

import { useApp } from '../../app/app-context.ts';

export function SessionRunning() {
  const { text, hub } = useApp();
  return (
    <section class="sheet sheet--centred">
      <h1 class="quiet-title">{text.setup.running}</h1>
      {hub.athletes.value.length === 1 ? (
        <a class="button button--primary" href={`/live/${hub.athletes.value[0]!.athleteId}`}>
          {text.setup.openLive}
        </a>
      ) : (
        <a class="button button--primary" href="/wall">
          {text.setup.openWall}
        </a>
      )}
      {hub.role.value === 'coach' ? (
        <a class="button" href="/people">
          {text.course.people.title}
        </a>
      ) : null}
    </section>
  );
}
