// The calendar: a row a week, a square a day whose size is the time held, rings for training without sensors.

import { useApp } from '../../app/app-context.ts';
import { formatDay, type WeekLoad } from '../../state/calendar.ts';
import { formatDuration } from '../../state/format.ts';

export function LoadCalendar({ weeks }: { readonly weeks: readonly WeekLoad[] }) {
  const { text } = useApp();
  const words = text.history.weeks;
  const most = Math.max(1, ...weeks.flatMap(({ days }) => days.map((day) => day?.heldMs ?? 0)));
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard
    <section class="calendar-scroll" tabIndex={0} aria-label={words.calendar}>
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
            <tr key={week.day}>
              <th scope="row">{formatDay(week.day)}</th>
              {week.days.map((day, weekday) => (
                <td key={words.weekdays[weekday]}>
                  {day === null ? null : (
                    <>
                      <svg
                        viewBox="0 0 32 32"
                        width={32}
                        height={32}
                        role="img"
                        aria-label={words.dayLabel(
                          formatDay(day.day),
                          day.sessionCount,
                          formatDuration(day.heldMs),
                          day.entryCount,
                        )}
                      >
                        {day.sessionCount > 0 ? <Square share={day.heldMs / most} /> : null}
                        {day.entryCount > 0 ? <circle class="calendar-ring" cx={16} cy={16} r={14} /> : null}
                      </svg>
                      {day.sessionCount > 0 ? (
                        <small aria-hidden="true">{formatDuration(day.heldMs)}</small>
                      ) : null}
                    </>
                  )}
                </td>
              ))}
              <td class="calendar-load">
                {week.sessionCount === 0 ? null : (
                  <>
                    <span class="wide-only">{words.weekSessions(week.sessionCount)} </span>
                    {formatDuration(week.heldMs)}
                  </>
                )}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

/** Area for time, so that twice the time looks like twice. */
function Square({ share }: { readonly share: number }) {
  const side = Math.max(4, 24 * Math.sqrt(share));
  return <rect class="calendar-square" x={16 - side / 2} y={16 - side / 2} width={side} height={side} />;
}
