// Says a sentence by the browser's own voice, where it has one, in place of whatever it was saying.

export function sayAloud(sentence: string, language: string, over: () => void): void {
  if (typeof speechSynthesis === 'undefined' || speechSynthesis.getVoices().length === 0) {
    over();
    return;
  }
  const spoken = new SpeechSynthesisUtterance(sentence);
  spoken.lang = language;
  spoken.onend = over;
  spoken.onerror = over;
  speechSynthesis.cancel();
  speechSynthesis.speak(spoken);
}

export function hushAloud(): void {
  if (typeof speechSynthesis !== 'undefined') speechSynthesis.cancel();
}
