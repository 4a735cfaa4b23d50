// What a course keeps as tables for other programs (CSV, RFC 4180). Not translated: the columns are names for programs.

import type { Drill, Incident, Participant } from '../../shared/course.ts';
import type { Athlete } from '../../shared/views.ts';
import { quotedText } from '../../src/formats/csv/csv-writer.ts';

export interface CourseKept {
  readonly participants: readonly Participant[];
  readonly drills: readonly Drill[];
  readonly incidents: readonly Incident[];
}

const simulatedComment = '# SIMULATED\n';
const utc = (wallMs: number | null): string => (wallMs === null ? '' : new Date(wallMs).toISOString());

/** By name: "participants", "drills", "incidents". */
export function courseTables(
  { participants, drills, incidents }: CourseKept,
  athletes: readonly Athlete[],
  simulated: boolean,
): Readonly<Record<string, () => string>> {
  const table = (columns: readonly string[], rows: readonly (readonly (string | number)[])[]): string =>
    (simulated ? simulatedComment : '') +
    [
      columns.join(','),
      ...rows.map((row) =>
        row.map((cell) => (typeof cell === 'number' ? String(cell) : safe(cell))).join(','),
      ),
    ].join('\n') +
    '\n';
  const nameOf = (wanted: string | null): string =>
    athletes.find(({ athleteId }) => athleteId === wanted)?.name ?? '';
  return {
    participants: () =>
      table(
        ['athlete', 'statement', 'given', 'on_day', 'written_utc', 'device'],
        participants.flatMap(({ name, statements }) =>
          statements.map(({ kind, isGiven, onDay, writtenWallAtMs, by }) => [
            name,
            kind,
            isGiven ? 'yes' : 'no',
            onDay,
            utc(writtenWallAtMs),
            by,
          ]),
        ),
      ),
    drills: () =>
      table(
        ['started_utc', 'ended_utc', 'ending', 'person', 'device', 'after_s'],
        drills.flatMap(({ startedWallAtMs, endedWallAtMs, ending, acknowledgements }) => {
          const head = [utc(startedWallAtMs), utc(endedWallAtMs), ending ?? ''];
          return acknowledgements.length === 0
            ? [[...head, '', '', '']]
            : acknowledgements.map(({ name, device, afterMs }) => [...head, name, device, afterMs / 1000]);
        }),
      ),
    incidents: () =>
      table(
        [
          'at_utc',
          'athlete',
          'what',
          'done',
          'written_by',
          'written_utc',
          'session_id',
          'acknowledged_by',
          'acknowledged_utc',
        ],
        incidents.flatMap(
          ({ atWallMs, athleteId, what, done, by, writtenWallAtMs, sessionId, acknowledgements }) => {
            const head = [
              utc(atWallMs),
              nameOf(athleteId),
              what,
              done,
              by,
              utc(writtenWallAtMs),
              sessionId ?? '',
            ];
            return acknowledgements.length === 0
              ? [[...head, '', '']]
              : acknowledgements.map((one) => [...head, one.name, utc(one.atWallMs)]);
          },
        ),
      ),
  };
}

/** Quoted; one that a spreadsheet would take for a formula begins with a blank (OWASP, CSV injection; from memory). */
const safe = (text: string): string => quotedText(text).replace(/^"(?=[=+@-])/, '" ');
