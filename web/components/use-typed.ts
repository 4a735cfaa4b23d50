// A field that is taken when it is left: what is being typed stays in it, however often the page is drawn anew meanwhile.

import { useSignal } from '@preact/signals';
import type { TargetedEvent } from 'preact';

export interface TypedProps {
  readonly value: string;
  readonly onInput: (event: TargetedEvent<HTMLInputElement>) => void;
  readonly onChange: (event: TargetedEvent<HTMLInputElement>) => void;
}

/** `take` answers whether what was typed is to stay as it is, to be put right. */
export function useTyped(shown: string, take: (typed: string) => boolean): TypedProps {
  /** Null while nothing is being typed. */
  const typed = useSignal<string | null>(null);
  return {
    value: typed.value ?? shown,
    onInput: (event) => {
      typed.value = event.currentTarget.value;
    },
    onChange: (event) => {
      const { value } = event.currentTarget;
      typed.value = take(value) ? value : null;
    },
  };
}
