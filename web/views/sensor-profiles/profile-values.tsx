// What the profile makes of all the bytes: the last value of each channel, with a small plot of its course.

import type { Explanation } from '../../../src/profiles/explain-capture.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { useApp } from '../../app/app-context.ts';
import { linePath, makeFrame } from '../../charts/svg-plot.tsx';

export function ProfileValues({ explanation }: { readonly explanation: Explanation }) {
  const { text } = useApp();
  const words = text.profiles;
  const channels = new Map<Sample['channel'], Sample[]>();
  for (const packet of explanation.packets)
    for (const sample of packet.samples)
      channels.set(sample.channel, [...(channels.get(sample.channel) ?? []), sample].slice(-2_000));
  const { batteryPercent } = explanation;
  return (
    <section class="step">
      <h2>{words.values}</h2>
      <p role="status">{words.counts(explanation.frameCount, explanation.refused.length)}</p>
      {channels.size === 0 ? <p class="hint">{words.nothingYet}</p> : null}
      <ul class="profile-values">
        {[...channels].map(([channel, samples]) => (
          <li key={channel}>
            <span>{words.gives[channel]}</span>
            <strong>{Math.round(samples.at(-1)!.value * 100) / 100}</strong>
            <SmallPlot samples={samples} />
          </li>
        ))}
      </ul>
      {batteryPercent === undefined ? null : <p>{words.battery(batteryPercent)}</p>}
    </section>
  );
}

function SmallPlot({ samples }: { readonly samples: readonly Sample[] }) {
  const xs = samples.map(({ atMs }) => atMs as number);
  const ys = samples.map(({ value }) => value);
  const [low, high] = [Math.min(...ys), Math.max(...ys)];
  const margins = { left: 2, right: 2, top: 3, bottom: 3 };
  const frame = makeFrame({
    width: 240,
    height: 48,
    xRange: [xs[0]!, xs.at(-1)!],
    yRange: low === high ? [low - 1, high + 1] : [low, high],
    margins,
  });
  return (
    <svg class="profile-plot" viewBox="0 0 240 48" aria-hidden="true">
      <path d={linePath(frame, xs, ys)} />
    </svg>
  );
}
