// A form whose unsaved content outlives it: kept at each change, brought back when the form is next opened, and said in the
// bar when the form is left.

import { useLayoutEffect, useRef } from 'preact/hooks';
import type * as z from 'zod/mini';
import { formatWallTime } from '../state/format.ts';
import { useApp } from './app-context.ts';

export interface DraftOf<Schema extends z.ZodMiniType> {
  /** Names the form and what it is about; '' keeps nothing. */
  readonly key: string;
  readonly schema: Schema;
  readonly athleteId: string | null;
  /** What is being written, as the bar names it. */
  readonly name: string;
  /** Where the form is, to come back to; null where it is not at an address of its own. */
  readonly path: string | null;
}

export interface DraftHandle<Body> {
  /** What was kept before this form was opened. */
  readonly kept: Body | null;
  /** When that was written, by the clock of this place; '' without one. */
  readonly keptAt: string;
  readonly keep: (body: Body) => void;
  /** It was saved, or is not wanted. */
  readonly settle: () => void;
  /** Stays kept, and leaving is not to be remarked upon. */
  readonly setAside: () => void;
}

export function useDraft<Schema extends z.ZodMiniType>(of: DraftOf<Schema>): DraftHandle<z.output<Schema>> {
  const { drafts, takeBacks, text, router } = useApp();
  const { key, schema, athleteId } = of;
  const first = useRef<{ key: string; kept: ReturnType<typeof drafts.read<Schema>> } | null>(null);
  if (first.current?.key !== key) first.current = { key, kept: key === '' ? null : drafts.read(key, schema) };
  const { kept } = first.current;
  const open = useRef(false);
  const latest = useRef(of);
  latest.current = of;
  // Before the paint: what is typed into the next form by then is none of this one's.
  useLayoutEffect(
    () => () => {
      if (!open.current) return;
      open.current = false;
      const words = text.takeBack;
      const { name, path } = latest.current;
      takeBacks.offer({
        done: words.draftKept(name),
        actions: [
          ...(path === null
            ? []
            : [
                {
                  label: words.backToDraft,
                  act: async () => {
                    router.go(path);
                    return null;
                  },
                },
              ]),
          {
            label: words.dropDraft,
            act: async () => {
              drafts.forget(key);
              return null;
            },
          },
        ],
      });
    },
    [key],
  );
  return {
    kept: kept?.body ?? null,
    keptAt: kept === null ? '' : formatWallTime(kept.writtenWallAtMs),
    keep: (body) => {
      if (key === '') return;
      open.current = true;
      drafts.keep(key, athleteId, body);
    },
    setAside: () => {
      open.current = false;
    },
    settle: () => {
      open.current = false;
      drafts.forget(key);
    },
  };
}
