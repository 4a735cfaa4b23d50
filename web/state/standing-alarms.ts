// What the frame shows of all alarms that stand: one entry an athlete, one for what has one cause for all of them, one
// for each alarm of the watching itself; in the order in which they need a look. Pure.

import type { AlarmKind, AlarmPriority } from '../../shared/schema-parts.ts';
import type { AlarmView, SupervisionAlarm } from '../../shared/views.ts';
import { lookRank, orderAlarms, priorityRank } from './alarm-order.ts';

export interface AlarmsOfAthlete {
  readonly athleteId: string;
  readonly name: string;
  readonly alarms: readonly AlarmView[];
}

/** Alarms of one athlete, or of several by one cause. */
export interface AthleteEntry {
  readonly type: 'athlete';
  readonly key: string;
  /** One, or all whom the one cause concerns. */
  readonly athletes: readonly { readonly athleteId: string; readonly name: string }[];
  /** One cause, said once: of everybody, or of those named. */
  readonly common: 'all' | 'some' | null;
  readonly priority: AlarmPriority;
  readonly first: AlarmView;
  readonly more: readonly AlarmView[];
  readonly presents: readonly Presented[];
  /** By a person, all of it. */
  readonly acknowledged: boolean;
}

export interface WatchEntry {
  readonly type: 'watch';
  readonly key: string;
  readonly priority: AlarmPriority;
  readonly alarm: SupervisionAlarm;
  readonly presents: readonly Presented[];
  readonly acknowledged: boolean;
}

export type AlarmEntry = AthleteEntry | WatchEntry;

export interface Presented {
  readonly athleteId: string | null;
  readonly alarmId: string;
}

/** What is always of the room and not of one person: told once, whomever it concerns. */
const ofTheRoom: ReadonlySet<AlarmKind> = new Set<AlarmKind>(['pageUnresponsive']);
/** One radio or one hub can be behind these: told once where all have them, come up within this time. Our choice. */
const perhapsOneCause: ReadonlySet<AlarmKind> = new Set<AlarmKind>(['sensorLost', 'readingsStale']);
const togetherMs = 5_000;

/** Everything that stands, in the order in which it needs a look: what nobody has seen first. */
export function standingEntries(
  people: readonly AlarmsOfAthlete[],
  watching: readonly SupervisionAlarm[],
): readonly AlarmEntry[] {
  const { common, rest } = withoutCommon(people);
  const own = rest.flatMap((person): AthleteEntry[] => {
    const [first, ...more] = orderAlarms(person.alarms);
    return first === undefined ? [] : [entryOf([person], null, first, more, person.athleteId)];
  });
  const watch = watching.map(
    (alarm): WatchEntry => ({
      type: 'watch',
      key: alarm.alarmId,
      priority: alarm.priority,
      alarm,
      presents: [{ athleteId: null, alarmId: alarm.alarmId }],
      acknowledged: alarm.acknowledged,
    }),
  );
  return [...own, ...common, ...watch].sort(
    (one, other) => Number(one.acknowledged) - Number(other.acknowledged) || needOf(other) - needOf(one) || 0,
  );
}

const needOf = (entry: AlarmEntry): number =>
  entry.type === 'watch' ? priorityRank(entry.priority) : lookRank(entry.first);

/** The alarms that one cause raises for several, told once; and what is left of each athlete's. */
function withoutCommon(people: readonly AlarmsOfAthlete[]): {
  readonly common: readonly AthleteEntry[];
  readonly rest: readonly AlarmsOfAthlete[];
} {
  const taken = new Set<AlarmView>();
  const common: AthleteEntry[] = [];
  for (const kind of [...ofTheRoom, ...perhapsOneCause]) {
    const having = people.flatMap((person) => {
      const alarm = person.alarms.find((one) => one.kind === kind);
      return alarm === undefined ? [] : [{ person, alarm }];
    });
    const ofAll = having.length === people.length;
    if (having.length === 0 || (!ofTheRoom.has(kind) && !(ofAll && people.length > 1 && areTogether(having))))
      continue;
    for (const { alarm } of having) taken.add(alarm);
    const [first] = orderAlarms(having.map(({ alarm }) => alarm));
    const entry = entryOf(
      having.map(({ person }) => person),
      ofAll ? 'all' : 'some',
      first!,
      [],
      kind,
    );
    common.push({
      ...entry,
      presents: having.map(({ person, alarm }) => ({
        athleteId: person.athleteId,
        alarmId: alarm.alarmId,
      })),
      acknowledged: having.every(({ alarm }) => alarm.acknowledged),
    });
  }
  return {
    common,
    rest: people.map((person) => ({
      ...person,
      alarms: person.alarms.filter((alarm) => !taken.has(alarm)),
    })),
  };
}

function areTogether(having: readonly { readonly alarm: AlarmView }[]): boolean {
  const raised = having.map(({ alarm }) => alarm.raisedAtMs);
  return Math.max(...raised) - Math.min(...raised) <= togetherMs;
}

function entryOf(
  people: readonly AlarmsOfAthlete[],
  common: AthleteEntry['common'],
  first: AlarmView,
  more: readonly AlarmView[],
  key: string,
): AthleteEntry {
  return {
    type: 'athlete',
    key,
    athletes: people.map(({ athleteId, name }) => ({ athleteId, name })),
    common,
    priority: first.priority,
    first,
    more,
    presents: people.flatMap(({ athleteId }) =>
      [first, ...more].map(({ alarmId }) => ({ athleteId, alarmId })),
    ),
    acknowledged: [first, ...more].every(({ acknowledged }) => acknowledged),
  };
}

/** Whether anybody must be told by the tab too: something unseen of high or medium priority, or something high and true. */
export function isCalling(entry: AlarmEntry): boolean {
  if (!entry.acknowledged) return entry.priority !== 'low';
  return entry.priority === 'high' && (entry.type === 'watch' || entry.first.conditionPresent);
}

/** The page of the entry's athlete is open. */
export function isPageOf(entry: AthleteEntry, shownAthleteId: string | null): boolean {
  return entry.common === null && shownAthleteId !== null && shownAthleteId === entry.athletes[0]?.athleteId;
}

/** Of those that need a look alike, the alarm of the athlete whose page is open comes first. */
export function ownFirst(
  entries: readonly AlarmEntry[],
  shownAthleteId: string | null,
): readonly AlarmEntry[] {
  const own = entries.find((entry) => entry.type === 'athlete' && isPageOf(entry, shownAthleteId));
  const first = entries[0];
  if (own === undefined || first === undefined || own === first) return entries;
  if (own.acknowledged !== first.acknowledged || needOf(own) < needOf(first)) return entries;
  return [own, ...entries.filter((entry) => entry !== own)];
}

/** What one line for several has to look like: the most urgent of what nobody has seen, else of all. */
export function foldedPriority(entries: readonly AlarmEntry[]): {
  readonly priority: AlarmPriority;
  readonly acknowledged: boolean;
} {
  const unseen = entries.filter(({ acknowledged }) => !acknowledged);
  const priority = (unseen.length > 0 ? unseen : entries)
    .map((entry) => entry.priority)
    .reduce((one, other) => (priorityRank(other) > priorityRank(one) ? other : one), 'low' as AlarmPriority);
  return { priority, acknowledged: unseen.length === 0 };
}

/** How many people are in alarm by themselves: what has one cause for several is said once, and not as theirs. */
export function countInAlarm(entries: readonly AlarmEntry[]): number {
  return entries.filter((entry) => entry.type === 'athlete' && entry.common === null).length;
}
