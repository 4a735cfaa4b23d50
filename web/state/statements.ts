// What athletes have said of themselves as it stands: the last of a kind, and what a session's start should tell. Pure.

import type { Participant, Statement, StatementKind } from '../../shared/course.ts';

/** A word of being fit to train counts for a course's week. Our choice; common practice asks anew before each course. */
const fitForDays = 7;
const dayMs = 86_400_000;

/** The last of its kind; undefined where nothing was said or it was taken back. */
export function standingStatement(
  { statements }: Pick<Participant, 'statements'>,
  kind: StatementKind,
): Statement | undefined {
  const last = statements.findLast((statement) => statement.kind === kind);
  return last?.isGiven === true ? last : undefined;
}

export interface MissingStatement {
  readonly name: string;
  /** `old`: said to be fit, on this day, too long ago. */
  readonly what: 'consent' | 'fitness' | 'old';
  readonly onDay: string;
}

/** Of those who are to train: who has not consented to be recorded, or has not lately said to be fit. `today`: "2026-05-12". */
export function missingStatements(participants: readonly Participant[], today: string): MissingStatement[] {
  return participants.flatMap((participant) => {
    const { name } = participant;
    const missing: MissingStatement[] = [];
    if (standingStatement(participant, 'consent') === undefined)
      missing.push({ name, what: 'consent', onDay: '' });
    const fit = standingStatement(participant, 'fitness');
    if (fit === undefined) missing.push({ name, what: 'fitness', onDay: '' });
    else if (Date.parse(today) - Date.parse(fit.onDay) > fitForDays * dayMs)
      missing.push({ name, what: 'old', onDay: fit.onDay });
    return missing;
  });
}

/** Who lacks the same is named in one sentence: a course of twelve has three lines to read, not twenty-four. */
export function byMatter(
  missing: readonly MissingStatement[],
): readonly { readonly what: MissingStatement['what']; readonly names: string[]; readonly onDay: string }[] {
  const matters: { what: MissingStatement['what']; names: string[]; onDay: string }[] = [];
  for (const { name, what, onDay } of missing) {
    const known = matters.find((matter) => matter.what === what && matter.onDay === onDay);
    if (known === undefined) matters.push({ what, names: [name], onDay });
    else known.names.push(name);
  }
  return matters;
}

/** The day on the clock of this device. */
export function dayOf(wallMs: number): string {
  const at = new Date(wallMs);
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}
