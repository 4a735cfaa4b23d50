// Who leads a session, as a person types it into one field: several names with commas between them.

import { mostLeaders } from '../../shared/views.ts';
import { isolated } from './format.ts';

/** Undefined where nobody is named. */
export function typedLeaders(text: string): string[] | undefined {
  const names = text
    .split(/[,;]/)
    .map((name) => name.trim())
    .filter((name) => name !== '')
    .slice(0, mostLeaders);
  return names.length === 0 ? undefined : names;
}

export const leadersAsTyped = (leaders: readonly { readonly name: string }[]): string =>
  leaders.map(({ name }) => name).join(', ');

/** To be read in a sentence. */
export const leadersAsSaid = (leaders: readonly { readonly name: string }[]): string =>
  leaders.map(({ name }) => isolated(name)).join(', ');
