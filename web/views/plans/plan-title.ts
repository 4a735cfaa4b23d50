// A plan's title as its numbers change. Pure.

import type { Plan } from '../../../shared/plan.ts';
import type { Said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { sayTitle } from '../../../src/plans/generate-plan.ts';

/**
 * `next` with its title: one that only said the shape of `before` goes on saying it, one that a person gave stays.
 * `rowsTitle` is what a table of own rows is called at first.
 */
export function renamedAsChanged(
  before: Plan,
  next: Plan,
  rowsTitle: string,
  say: (said: Said) => string,
): Plan {
  const shape = sayTitle(before);
  const isUnnamed = [say(shape), sayInEnglish(shape), rowsTitle].includes(before.title);
  return isUnnamed ? { ...next, title: say(sayTitle(next)) } : next;
}
