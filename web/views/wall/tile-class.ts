// How a tile looks by what its athlete does and what alarm stands: by class, so that nothing has to move to be seen. Pure.

import type { Phase } from '../../../shared/schema-parts.ts';
import type { AlarmView } from '../../../shared/views.ts';

export function tileClassOf(
  phase: Phase,
  first: Pick<AlarmView, 'priority' | 'acknowledged' | 'conditionPresent'> | undefined,
): string {
  if (first === undefined) return `tile--${phase}`;
  const seen = first.acknowledged ? ' is-acknowledged' : '';
  const passed = first.conditionPresent ? '' : ' is-passed';
  return `tile--${phase} tile--alarm tile--${first.priority}${seen}${passed}`;
}
