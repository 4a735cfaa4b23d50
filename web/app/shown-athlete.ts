// Whose own page is open: the live page of one athlete, or the page of a plan that they alone are in.

import type { App } from './app-context.ts';

/** The athlete's id, or null. Reads signals: use it where they are followed. */
export function shownAthleteId({
  router,
  planRun,
  hub,
}: Pick<App, 'router' | 'planRun' | 'hub'>): string | null {
  const path = router.path.value;
  if (path.startsWith('/live/')) return path.slice('/live/'.length);
  const run = planRun.run.value;
  if (path !== '/plan-run' || run === null || !hub.recording.value) return null;
  const ids = planRun.shownAthleteIds.value ?? run.options.athletes.map(({ athleteId }) => athleteId);
  const only = ids.length === 1 ? hub.athleteById(ids[0]!) : undefined;
  return only?.athleteId ?? null;
}
