// Which of several radios makes the link to a sensor: by how many links each has and how well it hears it. Pure.

import type { LinkPolicy } from './link-policy.ts';
import { isWorthAnAttempt } from './link-questions.ts';
import type { Hearing, RadioRecord, SensorRecord } from './link-state.ts';

/** Links that are open, being made or being closed on a radio. */
export function linksOf(sensors: Iterable<SensorRecord>, radioId: string): number {
  let count = 0;
  for (const { phase } of sensors) if ('link' in phase && phase.link.radioId === radioId) count += 1;
  return count;
}

/** It has refused a link at as many as it has now, and not so long ago that this may have changed. */
const isFull = ({ limit }: RadioRecord, links: number, nowMs: number, policy: LinkPolicy): boolean =>
  limit !== null && links >= limit.links && nowMs - limit.atMs < policy.limitRetryMs;

/** Small is better, in dB: the links there are, and how far the signal lies below a good one. */
const costOf = (links: number, rssiDbm: number | null, policy: LinkPolicy): number =>
  links * policy.linkWeighsDb +
  (rssiDbm === null ? policy.linkWeighsDb : Math.max(0, policy.goodSignalDbm - rssiDbm));

export type RadioChoice =
  | { readonly radioId: string }
  /** Another may suit it better and is given a moment; or none can take it now. */
  | 'wait'
  /** Every radio that hears it has as many links as it can hold. */
  | 'allFull';

/** `loads`: every radio there is, with its links. */
export function chooseRadio(
  sensor: SensorRecord,
  loads: readonly { readonly radio: RadioRecord; readonly links: number }[],
  nowMs: number,
  policy: LinkPolicy,
): RadioChoice {
  const hearingOf = (radioId: string): Hearing | undefined =>
    sensor.heard.find(
      (heard) => heard.radioId === radioId && isWorthAnAttempt(sensor, heard.atMs, nowMs, policy),
    );
  const usable = loads.filter(({ radio }) => radio.on && radio.awaySinceMs === null);
  const hearing = usable.flatMap(({ radio, links }) => {
    const heard = hearingOf(radio.radioId);
    return heard === undefined ? [] : [{ radio, links, heard }];
  });
  if (hearing.length === 0) return 'wait';
  const able = hearing.filter(({ radio, links }) => !isFull(radio, links, nowMs, policy));
  if (able.length === 0) return 'allFull';
  const costs = able.map((each) => ({ ...each, cost: costOf(each.links, each.heard.rssiDbm, policy) }));
  const free = costs.filter(({ radio }) => radio.connecting === null).toSorted((a, b) => a.cost - b.cost)[0];
  if (free === undefined) return 'wait';
  const sinceMs = Math.min(...hearing.map(({ heard }) => heard.sinceMs));
  if (nowMs - sinceMs < policy.otherRadiosMs) {
    const mayBeBetter = usable.some(
      ({ radio, links }) =>
        radio !== free.radio &&
        !isFull(radio, links, nowMs, policy) &&
        costOf(links, hearingOf(radio.radioId)?.rssiDbm ?? policy.goodSignalDbm, policy) < free.cost,
    );
    if (mayBeBetter) return 'wait';
  }
  return { radioId: free.radio.radioId };
}
