// What zod found wrong in a file that people write by hand, as codes: a plan's file, a sensor profile.

import type * as z from 'zod/mini';
import { type Said, said } from '../../shared/said.ts';

/** What the value at the issue's place must be. */
export function jsonFault(issue: z.core.$ZodIssue): Said {
  switch (issue.code) {
    case 'too_small': {
      const least = Number(issue.minimum);
      if (issue.origin === 'array') return said('json.atLeastEntries', { least });
      if (issue.origin === 'string') return said('json.atLeastCharacters', { least });
      return said('json.atLeast', { least });
    }
    case 'too_big': {
      const most = Number(issue.maximum);
      if (issue.origin === 'array') return said('json.atMostEntries', { most });
      if (issue.origin === 'string') return said('json.atMostCharacters', { most });
      return said('json.atMost', { most });
    }
    case 'invalid_type':
      return expectedKind(issue.expected);
    case 'invalid_value':
      return oneOf(issue.values);
    case 'invalid_union': {
      const options = 'options' in issue && Array.isArray(issue.options) ? issue.options : [];
      return options.length > 0 ? oneOf(options) : said('json.noSuchKind');
    }
    default:
      return said('json.invalid');
  }
}

function oneOf(values: readonly unknown[]): Said {
  const written = values.map((value) => JSON.stringify(value));
  return written.length === 1
    ? said('json.exactly', { value: written[0]! })
    : said('json.oneOf', { values: written.join(', ') });
}

function expectedKind(expected: string): Said {
  switch (expected) {
    case 'int':
      return said('json.wholeNumber');
    case 'string':
      return said('json.text');
    case 'array':
      return said('json.list');
    case 'object':
      return said('json.group');
    default:
      return said('json.kind', { kind: expected });
  }
}
