// Answers to a question that is asked again and again: one that a newer answer has overtaken is not taken.

import { useRef } from 'preact/hooks';

/** To be called when asking; what it answers with, when the answer is there, says whether that is newer than what was taken. */
export function useInOrder(): () => () => boolean {
  const asked = useRef(0);
  const taken = useRef(0);
  return () => {
    asked.current += 1;
    const own = asked.current;
    return () => {
      if (own < taken.current) return false;
      taken.current = own;
      return true;
    };
  };
}
