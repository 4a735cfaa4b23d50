// The page of the list that is asked for: looked for by the hub, a moment after the last letter typed; an answer that comes
// late for what is asked by now is left.

import { type ReadonlySignal, type Signal, signal, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { FoundRecordingsBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { noFields, type RecordingFields, recordingsQuery } from '../../state/recordings-query.ts';

/** Figures that the hub is working out are asked for again this soon: often enough to see them come. Our choice. */
const askAgainMs = 1_500;
/** Somebody types on within this. Our choice. */
const typingMs = 150;

// Kept while the page is open, so that whoever comes back from a recording finds the same place.
const fields = signal<RecordingFields>(noFields);
const pageNumber = signal(0);

/** The list is to open with what somebody of this name led. */
export function lookForLeader(name: string): void {
  fields.value = { ...noFields, leader: name };
  pageNumber.value = 0;
}

export interface FoundRecordings {
  readonly fields: Signal<RecordingFields>;
  /** Null until the hub has answered. */
  readonly found: ReadonlySignal<FoundRecordingsBody | null>;
  readonly problem: Signal<string | null>;
  /** Asks for what the fields say now, from the first page. */
  readonly look: () => void;
  readonly turn: (page: number) => void;
  /** Asks again for the same. */
  readonly again: () => void;
}

export function useFoundRecordings(): FoundRecordings {
  const { text, http, timers } = useApp();
  const found = useSignal<FoundRecordingsBody | null>(null);
  const problem = useSignal<string | null>(null);
  const asking = useRef<{ leave: () => void }>({ leave: () => undefined });
  const ask = (afterMs: number) => {
    asking.current.leave();
    const abort = new AbortController();
    let current = true;
    const look = async () => {
      const query = recordingsQuery(fields.value, pageNumber.value, text.recordings.untitled);
      const answer = await http.foundRecordings(query, abort.signal);
      if (!current) return;
      problem.value = answer.ok ? null : text.recordings.failed(answer.reason);
      if (!answer.ok) return;
      pageNumber.value = answer.value.page;
      found.value = answer.value;
      if (answer.value.isWorkingOut) cancel = timers.after(askAgainMs, () => void look());
    };
    let cancel = afterMs === 0 ? () => undefined : timers.after(afterMs, () => void look());
    if (afterMs === 0) void look();
    asking.current = {
      leave: () => {
        current = false;
        cancel();
        abort.abort();
      },
    };
  };
  useEffect(() => () => asking.current.leave(), []);
  return {
    fields,
    found,
    problem,
    look: () => {
      pageNumber.value = 0;
      ask(typingMs);
    },
    turn: (page) => {
      pageNumber.value = page;
      scrollTo(0, 0);
      ask(0);
    },
    again: () => ask(0),
  };
}
