// A coach's message on the athlete's own device: shown until it was seen, and read aloud where that was asked for.

import { useEffect } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import '../components/hands-free.css';

export function CoachWordsShown() {
  const { text, hub, http, planCues, language } = useApp();
  const words =
    hub.role.value === 'athlete'
      ? [...hub.coachWords.value.values()].find(({ state }) => state === 'shown')
      : undefined;
  const isRead = planCues.preferences.readWords;
  useEffect(() => {
    if (words === undefined || !isRead.peek() || typeof speechSynthesis === 'undefined') return;
    const spoken = new SpeechSynthesisUtterance(words.text);
    spoken.lang = language.language.value;
    spoken.volume = planCues.preferences.volume.peek();
    speechSynthesis.speak(spoken);
  }, [words?.wordsId]);
  if (words === undefined) return null;
  return (
    <section class="coach-words" aria-label={text.course.mail.fromCoach}>
      <p role="status">
        <small>{text.course.mail.fromCoach}: </small>
        <strong>{words.text}</strong>
      </p>
      <label class="tick">
        <input
          type="checkbox"
          checked={isRead.value}
          onChange={(event) => (isRead.value = event.currentTarget.checked)}
        />
        <span>{text.course.mail.readAloud}</span>
      </label>
      <button
        type="button"
        class="button button--primary"
        onClick={() => void http.course.wordsSeen(words.athleteId, words.wordsId)}
      >
        {text.course.mail.seen}
      </button>
    </section>
  );
}
