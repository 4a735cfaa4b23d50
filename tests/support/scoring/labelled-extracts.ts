// Labelled extracts that people gave (src/formats/labelled-extract), as sessions to score. Simulated ones are refused.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { type LabelledExtract, labelledExtractSchema } from '../../../shared/labelled-extract.ts';
import type { Channel } from '../../../shared/schema-parts.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import type { ScoredSession } from './scored-session.ts';

export interface ScoredExtract {
  readonly session: ScoredSession;
  /** Only then is a hold found elsewhere false. */
  readonly everyHoldIsMarked: boolean;
}

/** What the series give, in the words of the other tables. */
function sensorsOf(channels: ReadonlySet<Channel>): string {
  const parts = [
    ...(channels.has('rrIntervalMs') ? ['beats'] : channels.has('heartRateBpm') ? ['heart rate'] : []),
    ...(channels.has('spo2Percent') ? ['oximetry'] : []),
    ...(channels.has('pleth') ? ['pleth'] : []),
  ];
  return parts.length === 1 ? `${parts[0]} only` : parts.join(' and ');
}

export function sessionOfExtract(name: string, extract: LabelledExtract): ScoredSession {
  const events: PipelineEvent[] = extract.series
    .flatMap(({ channel, sensor, timesMs, values }) =>
      timesMs.map((atMs, index) => ({ channel, sensor, atMs, value: values[index]! })),
    )
    .sort((a, b) => a.atMs - b.atMs)
    .map(({ channel, sensor, atMs, value }) => ({
      type: 'sample',
      sample: {
        channel,
        atMs: monotonicMs(atMs),
        value,
        sensorId: `sensor-${sensor}`,
        quality: 'good',
        reasons: [],
      },
    }));
  return {
    name,
    conditions: {
      sensors: sensorsOf(new Set(extract.series.map(({ channel }) => channel))),
      oximeter: extract.oximeter ?? 'not said',
    },
    durationMs: extract.durationMs,
    floorPercent: 85,
    events,
    holds: extract.holds.map(({ startMs, endMs, lungs }) => ({ startMs, endMs, lungs: lungs ?? undefined })),
  };
}

/** `onRefused` hears of a file that is no extract or measures nobody. */
export function* labelledExtracts(
  folder: string,
  onRefused: (file: string, why: string) => void,
): Generator<ScoredExtract> {
  if (!existsSync(folder)) return;
  for (const file of readdirSync(folder).sort()) {
    if (!file.endsWith('.json')) continue;
    let json: unknown;
    try {
      json = JSON.parse(readFileSync(`${folder}/${file}`, 'utf8'));
    } catch {
      onRefused(file, 'not JSON');
      continue;
    }
    const parsed = labelledExtractSchema.safeParse(json);
    if (!parsed.success) onRefused(file, parsed.error.issues[0]?.message ?? 'not an extract');
    else if (parsed.data.simulated) onRefused(file, 'SIMULATED: it would refute nothing');
    else
      yield {
        session: sessionOfExtract(file, parsed.data),
        everyHoldIsMarked: parsed.data.everyHoldIsMarked,
      };
  }
}
