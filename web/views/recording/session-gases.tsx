// Carbon dioxide and oxygen of a session: what share of the time held each stressed, and modelled PACO2 at the end of each hold.

import type { AthleteRecording } from '../../../shared/http.ts';
import type { PreviewBand } from '../../../src/oxygen/plan-preview.ts';
import { type SessionStress, type StressShare, sessionStress } from '../../../src/sessions/hold-parts.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDecimal } from '../../state/format.ts';
import { bandWords, pressureWords } from './length-words.ts';
import type { EndPco2 } from './use-end-pco2.ts';
import './session-gases.css';

export interface SessionGasesProps {
  readonly athlete: AthleteRecording;
  /** Null while it is worked out. */
  readonly endPco2: EndPco2 | null;
}

export function SessionGases({ athlete, endPco2 }: SessionGasesProps) {
  const { text } = useApp();
  const words = text.recorded.gas;
  const stress = sessionStress(athlete.holds);
  return (
    <section class="step session-gases">
      <h2>{words.title}</h2>
      {stress.holdCount === 0 ? (
        <p class="hint">{words.noHolds}</p>
      ) : (
        <>
          <p class="hint">{words.explain}</p>
          <dl class="stress-shares">
            <Share
              label={words.afterContraction}
              share={stress.afterContraction}
              whyNot={words.noOnset}
              stress={stress}
            />
            <Share
              label={words.below90}
              share={stress.below90}
              whyNot={words.noSpo2}
              stress={stress}
              note={words.below90Late}
            />
          </dl>
          <Model athlete={athlete} endPco2={endPco2} />
        </>
      )}
    </section>
  );
}

interface ShareProps {
  readonly label: string;
  readonly share: StressShare | null;
  readonly whyNot: string;
  readonly stress: SessionStress;
  readonly note?: string;
}

function Share({ label, share, whyNot, stress, note }: ShareProps) {
  const { text } = useApp();
  const words = text.recorded.gas;
  return (
    <div>
      <dt>{label}</dt>
      <dd>
        {share === null ? (
          <i>{whyNot}</i>
        ) : (
          <>
            <b>{words.share(formatDecimal(share.percent, 0))}</b>{' '}
            {share.uncertaintyPercent === 0 ? null : (
              <span>{words.uncertain(formatDecimal(share.uncertaintyPercent, 0))}</span>
            )}
            <small>
              {words.ofHolds(share.ofHolds, stress.holdCount, share.estimatedHolds)}
              {note === undefined || share.percent < 60 ? null : `. ${note}`}
            </small>
          </>
        )}
      </dd>
    </div>
  );
}

function Model({ athlete, endPco2 }: SessionGasesProps) {
  const { text } = useApp();
  const words = text.recorded.gas;
  if (endPco2 === null) return <p class="hint">{words.working}</p>;
  const rows = athlete.holds.flatMap(({ hold }, index) => {
    const band = endPco2.byHoldId.get(hold.holdId);
    return band === undefined ? [] : [{ holdId: hold.holdId, number: index + 1, band }];
  });
  return (
    <details class="explain">
      <summary>{words.modelTitle}</summary>
      <p>
        {words.modelWhat} {endPco2.fittedToHolds === 0 ? words.modelBasis.people : words.modelBasis.athlete}
      </p>
      <ScrollRegion label={words.modelTitle}>
        <table class="measures">
          <thead>
            <tr>
              <th scope="col">{words.hold}</th>
              <th scope="col">{words.middle}</th>
              <th scope="col">{words.bandTitle}</th>
              <td />
            </tr>
          </thead>
          <tbody>
            {rows.map(({ holdId, number, band }) => (
              <tr key={holdId}>
                <th scope="row">{number}</th>
                <td>{pressureWords(band.middle, text)}</td>
                <td>{bandWords(band, text)}</td>
                <td>
                  <BandBar band={band} />
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </ScrollRegion>
    </details>
  );
}

/** From rest to where few have been: 35 to 75 mmHg. */
const [fromMmHg, toMmHg] = [35, 75];

function BandBar({ band }: { readonly band: PreviewBand }) {
  const x = (mmHg: number): number =>
    (100 * (Math.min(toMmHg, Math.max(fromMmHg, mmHg)) - fromMmHg)) / (toMmHg - fromMmHg);
  return (
    <svg class="gas-band" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
      <rect class="gas-band-axis" y="4.5" width="100" height="1" />
      <rect class="gas-band-range" x={x(band.low)} y="2" width={x(band.high) - x(band.low)} height="6" />
      <rect class="gas-band-middle" x={x(band.middle) - 0.6} y="0" width="1.2" height="10" />
    </svg>
  );
}
