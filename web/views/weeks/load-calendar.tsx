// The calendar: a row a week, a square a day whose size is the time held, rings for training without sensors.

import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { type DayLoad, formatDay, type WeekLoad } from '../../state/calendar.ts';
import { formatDuration } from '../../state/format.ts';

export function LoadCalendar({ weeks }: { readonly weeks: readonly WeekLoad[] }) {
  const { text } = useApp();
  const words = text.history.weeks;
  const mostHeldMs = Math.max(1, ...weeks.flatMap(({ days }) => days.map((day) => day?.heldMs ?? 0)));
  return (
    <ScrollRegion class="calendar-scroll" label={words.calendar}>
      <table class="calendar">
        <thead>
          <tr>
            <th scope="col">{words.week}</th>
            {words.weekdays.map((weekday) => (
              <th key={weekday} scope="col">
                {weekday}
              </th>
            ))}
            <th scope="col">{words.load}</th>
          </tr>
        </thead>
        <tbody>
          {weeks.map((week) => (
            <WeekRow key={week.day} week={week} mostHeldMs={mostHeldMs} />
          ))}
        </tbody>
      </table>
    </ScrollRegion>
  );
}

function WeekRow({ week, mostHeldMs }: { readonly week: WeekLoad; readonly mostHeldMs: number }) {
  const { text } = useApp();
  const words = text.history.weeks;
  const more = text.weeksMore.load;
  return (
    <tr>
      <th scope="row">{formatDay(week.day)}</th>
      {week.days.map((day, weekday) => (
        <td key={words.weekdays[weekday]}>
          {day === null ? null : <Day day={day} mostHeldMs={mostHeldMs} />}
        </td>
      ))}
      <td class="calendar-load">
        {week.sessionCount === 0 ? null : (
          <>
            <span class="wide-only">{words.weekSessions(week.sessionCount)} </span>
            {formatDuration(week.heldMs)}
          </>
        )}
        {week.load.sessionCount > week.load.unknownCount ? (
          <small>{more.ofWeek(week.load.load, week.load.unknownCount)}</small>
        ) : null}
      </td>
    </tr>
  );
}

function Day({ day, mostHeldMs }: { readonly day: DayLoad; readonly mostHeldMs: number }) {
  const { text } = useApp();
  const held = formatDuration(day.heldMs);
  return (
    <>
      <svg
        viewBox="0 0 32 32"
        width={32}
        height={32}
        role="img"
        aria-label={text.history.weeks.dayLabel(formatDay(day.day), day.sessionCount, held, day.entryCount)}
      >
        {day.sessionCount > 0 ? <Square share={day.heldMs / mostHeldMs} /> : null}
        {day.entryCount > 0 ? <circle class="calendar-ring" cx={16} cy={16} r={14} /> : null}
      </svg>
      {day.sessionCount > 0 ? <small aria-hidden="true">{held}</small> : null}
    </>
  );
}

/** Area for time, so that twice the time looks like twice. */
function Square({ share }: { readonly share: number }) {
  const side = Math.max(4, 24 * Math.sqrt(share));
  return <rect class="calendar-square" x={16 - side / 2} y={16 - side / 2} width={side} height={side} />;
}
