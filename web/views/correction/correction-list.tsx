// The corrections that were made, taken back ones too, and the holds as they were estimated.

import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { formatDuration, formatWallTime } from '../../state/format.ts';
import { correctionWords } from './correction-words.ts';

export function CorrectionList({
  corrections,
  estimatedHolds,
}: Pick<AthleteRecording, 'corrections' | 'estimatedHolds'>) {
  const { text } = useApp();
  const words = text.history.correction;
  if (corrections.length === 0) return null;
  const estimated = estimatedHolds.map(
    ({ start, end }) => `${formatDuration(start.atMs)}\u2013${end === null ? '?' : formatDuration(end.atMs)}`,
  );
  return (
    <details class="explain">
      <summary>{words.list(corrections.filter(({ state }) => state === 'inForce').length)}</summary>
      <ol class="correction-list">
        {corrections.map(({ correctionId, correction, state, madeWallAtMs }) => (
          <li key={correctionId} class={`correction--${state}`}>
            {correctionWords(correction, text)} <small class="hint">{formatWallTime(madeWallAtMs)}</small>{' '}
            <strong>{words.state[state]}</strong>
          </li>
        ))}
      </ol>
      <p class="hint">{words.estimated(estimated.join(', '))}</p>
    </details>
  );
}
