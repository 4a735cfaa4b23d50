// The measures of every hold in one table: a column a hold, and "not known" instead of a number; the usual reason for it
// stands once below the table, any other in its cell.

import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { formatMeasure } from '../../state/format.ts';

export function HoldMeasures({ holds }: { readonly holds: AthleteRecording['holds'] }) {
  const { text, say } = useApp();
  const words = text.recording;
  // Every hold has the same measures, in the same order; the union is taken all the same.
  const keys = [...new Set(holds.flatMap((entry) => entry.measures.map((measure) => measure.key)))];
  const byKey = holds.map((entry) => new Map(entry.measures.map((measure) => [measure.key, measure])));
  const definitions = keys.map((key) => byKey.find((map) => map.has(key))!.get(key)!);
  const usualWhyNot = mostFrequent(
    holds.flatMap((entry) =>
      entry.measures.flatMap(({ value, whyNot }) => (value === null && whyNot !== null ? [say(whyNot)] : [])),
    ),
  );
  return (
    <>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard */}
      <section class="table-scroll" tabIndex={0} aria-label={words.holdsTitle}>
        <table class="measures">
          <thead>
            <tr>
              <th scope="col">{words.measure}</th>
              {holds.map((entry, index) => (
                <th scope="col" key={entry.hold.holdId}>
                  {words.hold(index + 1)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {definitions.map((definition) => (
              <tr key={definition.key}>
                <th scope="row">{say({ code: `measure.${definition.key}`, params: {} })}</th>
                {byKey.map((map, index) => {
                  const measure = map.get(definition.key);
                  const holdId = holds[index]!.hold.holdId;
                  if (measure === undefined || measure.value === null) {
                    const whyNot =
                      measure === undefined || measure.whyNot === null ? '' : say(measure.whyNot);
                    return (
                      <td key={holdId} class="is-unknown">
                        {text.notKnown}
                        {whyNot === usualWhyNot ? null : <small>{whyNot}</small>}
                      </td>
                    );
                  }
                  return <td key={holdId}>{formatMeasure(measure.value, measure.unit)}</td>;
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </section>
      {usualWhyNot === undefined ? null : <p class="hint">{words.notKnownWhy(usualWhyNot)}</p>}
      <details class="explain">
        <summary>{words.definitions}</summary>
        <dl class="definitions">
          {definitions.map((definition) => (
            <div key={definition.key}>
              <dt>{say({ code: `measure.${definition.key}`, params: {} })}</dt>
              <dd>
                {say({ code: `measure.${definition.key}.is`, params: {} })}{' '}
                <span class="hint">{say(definition.source)}</span>
              </dd>
            </div>
          ))}
        </dl>
      </details>
    </>
  );
}

function mostFrequent(reasons: readonly string[]): string | undefined {
  const counts = new Map<string, number>();
  for (const reason of reasons) counts.set(reason, (counts.get(reason) ?? 0) + 1);
  return [...counts].reduce<readonly [string, number] | undefined>(
    (most, entry) => (most === undefined || entry[1] > most[1] ? entry : most),
    undefined,
  )?.[0];
}
