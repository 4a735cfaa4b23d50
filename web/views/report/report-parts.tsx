// Parts that the report of one athlete and that of a group have in common: what stands above, alarms and notes, cautions.

import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import { measureOf } from '../../../src/sessions/hold-parts.ts';
import { useApp } from '../../app/app-context.ts';
import { formatDuration, formatMeasure } from '../../state/format.ts';
import { leadersAsSaid } from '../../state/leader-names.ts';
import { type ReportEvent, reportEvents } from './report-events.ts';

/** Nothing where nobody said so. */
export function LedBy({ session }: Pick<RecordingBody, 'session'>) {
  const { text } = useApp();
  if (session.leaders.length === 0) return null;
  return (
    <>
      {' \u00b7 '}
      {text.names.ledByLine(leadersAsSaid(session.leaders))}
    </>
  );
}

/** What a reader has to know of how it was recorded. */
export function ReportNotices({ recording }: { readonly recording: RecordingBody }) {
  const { text, say } = useApp();
  const words = text.history.report;
  const { session, damage } = recording;
  return (
    <>
      {session.simulated ? <p class="report-simulated">{words.simulated}</p> : null}
      {session.status === 'ended' ? null : <p class="report-simulated">{words.notEnded}</p>}
      {damage.map(say).map((sentence) => (
        <p class="report-simulated" key={sentence}>
          {sentence}
        </p>
      ))}
    </>
  );
}

/** All of them: alarms below the floor first, in a frame of their own where there are any. */
export function ReportFloorAlarms({ athlete }: { readonly athlete: AthleteRecording }) {
  const { text } = useApp();
  const words = text.recorded.report;
  const { belowFloor } = reportEvents(athlete, text);
  if (belowFloor.length === 0) {
    const floor = athlete.athlete.settings.floorSpo2Percent;
    // An imported recording has no alarms, whatever was read.
    const read = athlete.holds.flatMap((recorded, index) => {
      const lowest = measureOf(recorded, 'spo2LowestPercent');
      return lowest === null || lowest >= floor
        ? []
        : [words.holdRead(index + 1, formatMeasure(lowest, '%'))];
    });
    return read.length === 0 ? (
      <p class="report-events">{words.noneFirst}</p>
    ) : (
      <p class="report-floor-alarms">{words.notAlarmed(floor, read.join('; '))}</p>
    );
  }
  return (
    <section class="report-floor-alarms">
      <h2>{words.floorFirst}</h2>
      <EventLines events={belowFloor} />
    </section>
  );
}

export function ReportOtherEvents({ athlete }: { readonly athlete: AthleteRecording }) {
  const { text } = useApp();
  const words = text.recorded.report;
  const { others, lowCount } = reportEvents(athlete, text);
  if (others.length === 0 && lowCount === 0) return null;
  return (
    <section>
      <h2>{words.others}</h2>
      <EventLines events={others} />
      {lowCount === 0 ? null : <p class="hint">{words.lowCount(lowCount)}</p>}
    </section>
  );
}

function EventLines({ events }: { readonly events: readonly ReportEvent[] }) {
  return (
    <ul class="report-events">
      {events.map((event) => (
        <li key={event.key}>
          <strong>{formatDuration(event.atMs)}</strong> {event.what}
        </li>
      ))}
    </ul>
  );
}

export function ReportLabel() {
  const { text } = useApp();
  return (
    <p class="report-label">
      <strong>{text.name}</strong>
      <br />
      {text.notMedicalDevice}
    </p>
  );
}

export function ReportCautions() {
  const { text } = useApp();
  return (
    <section class="report-cautions">
      <h2>{text.setup.cautions}</h2>
      <ul>
        {text.cautions.map((caution) => (
          <li key={caution}>{caution}</li>
        ))}
      </ul>
      <p>{text.history.report.limits}</p>
      <p>{text.about.label}</p>
    </section>
  );
}
