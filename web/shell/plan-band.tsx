// A running plan in the frame, on every view: that nobody watches its athletes, where that is so, with the way to change
// it; and the last cue in words, where this page gives the cues.

import { useComputed, useSignalEffect } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { type Cue, cueDefinitions } from '../../src/plans/cue.ts';
import { useApp } from '../app/app-context.ts';
import { useAthleteNames } from '../components/use-athletes.ts';
import { formatList, shortened } from '../state/format.ts';
import { unwatchedIds } from '../state/plan-watch.ts';
import './plan-band.css';

export function PlanBand() {
  const { planRun } = useApp();
  return planRun.run.value === null ? null : <BandOfRun />;
}

/** Its athletes' names are asked for after its end too: a page that is opened then shows who they were. */
function BandOfRun() {
  const { planRun, planCues } = useApp();
  const known = useAthleteNames();
  useSignalEffect(() => {
    planCues.names.value = known.value;
  });
  if (!planRun.running.value) return null;
  return (
    <>
      <UnwatchedBand />
      {planCues.isLed.value ? <CueLine /> : null}
    </>
  );
}

/** Stays for as long as it is so: whoever looks at a plan may believe that it watches. */
function UnwatchedBand() {
  const { text, hub, planRun, planCues, commands } = useApp();
  const words = text.plans.unwatched;
  const run = planRun.run.value;
  if (run === null) return null;
  const ids = planRun.shownAthleteIds.value ?? run.options.athletes.map(({ athleteId }) => athleteId);
  const unwatched = unwatchedIds(ids, hub.session.value);
  if (unwatched.length === 0) return null;
  const names = unwatched.flatMap((id) => planCues.names.value.get(id) ?? []);
  const isAll = unwatched.length === ids.length;
  return (
    <aside class="unwatched-band" aria-label={words.title}>
      <strong>{words.title}</strong>
      <span>
        {isAll || names.length === 0
          ? words.all
          : words.some(formatList(names.map((name) => shortened(name))))}
      </span>
      {hub.recording.value || !hub.mayAct.value ? null : (
        <button
          type="button"
          class="button"
          onClick={() =>
            void commands.startSession(
              run.options.athletes.map(({ athleteId }) => athleteId),
              run.plan.title,
            )
          }
        >
          {words.begin}
        </button>
      )}
    </aside>
  );
}

const flashMs = 1_200;
/** A cue's words stay this long: an old one would say something that is no longer so. */
const cueShownMs = 12_000;

/** The last cue in words, and a soft flash of its frame for those who hear neither tones nor speech. */
function CueLine() {
  const { text, say, hub, planCues, planRun, router } = useApp();
  const shownAt = useRef<{ cue: Cue; atMs: number } | null>(null);
  const cue = planCues.lastCue.value;
  if (cue !== null && shownAt.current?.cue !== cue) shownAt.current = { cue, atMs: hub.pageNowMs.peek() };
  const ageMs = useComputed(() => hub.pageNowMs.value - (shownAt.current?.atMs ?? 0));
  const isFlashing = useComputed(
    () =>
      planCues.preferences.flash.value &&
      cue !== null &&
      cueDefinitions[cue.kind].flash &&
      ageMs.value < flashMs,
  );
  const isShown = useComputed(() => cue !== null && ageMs.value < cueShownMs);
  const several = (planRun.run.value?.options.athletes.length ?? 0) > 1;
  const name = cue?.athleteId == null ? undefined : planCues.names.value.get(cue.athleteId);
  const said =
    cue === null || !isShown.value
      ? ''
      : cue.secondsLeft === undefined
        ? say(cueDefinitions[cue.kind].said)
        : String(cue.secondsLeft);
  return (
    <div class={`plan-cue${isFlashing.value ? ' is-flashing' : ''}`}>
      <p aria-live="polite">
        {said === '' || !several || name === undefined ? said : text.frame.of(shortened(name), said)}
      </p>
      {router.path.value === '/plan-run' ? null : <a href="/plan-run">{text.plans.openRunShort}</a>}
    </div>
  );
}
