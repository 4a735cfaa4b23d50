// What was noted of a session in a few words, for rows and headings. Pure.

import type { SessionDetails } from '../../shared/session-details.ts';
import type { Messages } from '../i18n/en.ts';
import { isolated } from './format.ts';

/** In the order in which they matter; empty where nothing was noted. */
export function detailsInShort(details: SessionDetails, text: Messages): string[] {
  const words = text.weeksMore.details;
  const { effort, company, buddyName, place, tags, sleep, food, illness } = details;
  return [
    ...(illness === null || illness === 'well' ? [] : [words.illnesses[illness].toLowerCase()]),
    ...(effort === null ? [] : [words.short.effort(words.efforts[effort])]),
    ...(company === null
      ? []
      : [
          company === 'alone'
            ? words.short.alone
            : buddyName === ''
              ? words.short.accompanied
              : words.short.with(isolated(buddyName)),
        ]),
    ...(place === '' ? [] : [isolated(place)]),
    ...tags.map((tag) => `#${tag}`),
    ...(sleep === null ? [] : [words.short.sleep(words.sleeps[sleep])]),
    ...(food === null ? [] : [words.short.food(words.foods[food])]),
  ];
}
