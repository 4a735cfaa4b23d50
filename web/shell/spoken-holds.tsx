// Speaks that a hold was seen to start or end, for eyes that are closed, on every view. Off until asked for.

import { useSignalEffect } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import type { AthleteModel } from '../state/athlete-model.ts';

export function SpokenHolds() {
  const { hub } = useApp();
  return (
    <>
      {hub.athletes.value.map((model) => (
        <SpokenHold key={model.athleteId} model={model} />
      ))}
    </>
  );
}

function SpokenHold({ model }: { readonly model: AthleteModel }) {
  const { preferences, text, language, hub } = useApp();
  const known = useRef<{ readonly holdId: string; readonly ended: boolean } | null | undefined>(undefined);
  useSignalEffect(() => {
    const last = model.holds.value.at(-1);
    const now = last === undefined ? null : { holdId: last.holdId, ended: last.end !== null };
    const before = known.current;
    known.current = now;
    // What was there when the page opened is not news.
    if (before === undefined || now === null || !preferences.spokenCues.peek()) return;
    if (before?.holdId === now.holdId && before.ended === now.ended) return;
    if (typeof speechSynthesis === 'undefined') return;
    const said = now.ended ? text.live.cueHoldEnd : text.live.cueHoldStart;
    const isOneOfSeveral = hub.athletes.peek().length > 1;
    const words = new SpeechSynthesisUtterance(
      isOneOfSeveral ? `${model.athlete.peek().name}. ${said}` : said,
    );
    words.lang = language.language.peek();
    // An alarm that is being said is not cut short.
    if (!isOneOfSeveral && preferences.spokenAlarms.peek() === 'off') speechSynthesis.cancel();
    speechSynthesis.speak(words);
  });
  return null;
}
