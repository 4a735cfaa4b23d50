// Writes hub/school/SCALE.md out of the benches' figures: `npx tsx tests/bench/school/write-scale.ts`.

import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { assumptions as a, type MeasuredSchool, scaleOf, simulateDay, worstDay } from './scale.ts';

const results = fileURLToPath(new URL('./school-results.json', import.meta.url));
export const scalePath = fileURLToPath(new URL('../../../hub/school/SCALE.md', import.meta.url));

interface Results {
  readonly machine: { readonly date: string; readonly cores: number; readonly cpu: string };
  readonly hubs: { readonly hubs: number; readonly athletesPerHub: number };
  readonly live: Readonly<Record<string, number>>;
  readonly whileCatchingUp: Readonly<Record<string, number>>;
  readonly caughtUp: Readonly<Record<string, number>>;
  readonly weeks: Readonly<Record<string, number>>;
}

export const readResults = (): Results => JSON.parse(readFileSync(results, 'utf8')) as Results;

export function measuredOf({ hubs, live, caughtUp, weeks }: Results): MeasuredSchool {
  const of = (figures: Readonly<Record<string, number>>, name: string): number => {
    const value = figures[name];
    if (value === undefined) throw new Error(`no figure ${name}`);
    return value;
  };
  return {
    ...hubs,
    natsCores: of(live, 'natsCores'),
    postgresCores: of(live, 'postgresCores'),
    schoolCores: of(live, 'schoolCores'),
    liveMessagesPerS: of(live, 'liveMessagesPerS'),
    liveBytesPerS: of(live, 'liveBytesPerS'),
    keptMessagesPerS: of(live, 'keptMessagesPerS'),
    keptBytesPerS: of(live, 'keptBytesPerS'),
    schoolResidentBytes: of(live, 'schoolResidentBytes'),
    bytesPerPacket: of(caughtUp, 'bytesPerPacket'),
    caughtUpPacketsPerS: of(caughtUp, 'packetsPerS'),
    bytesPerSessionRow: of(weeks, 'bytesPerSessionRow'),
  };
}

/** Three digits that count, with the reader's thousands. */
function n(value: number): string {
  const rounded = value === 0 ? 0 : Number(value.toPrecision(3));
  return rounded >= 1_000 ? rounded.toLocaleString('en-GB') : String(rounded);
}
const bytes = (value: number): string => {
  for (const [unit, size] of [
    ['TB', 1e12],
    ['GB', 1e9],
    ['MB', 1e6],
    ['kB', 1e3],
  ] as const)
    if (value >= size) return `${n(value / size)} ${unit}`;
  return `${n(value)} B`;
};
const euro = (value: number): string => `${n(value)} €`;

export function scaleText(found: Results): string {
  const measured = measuredOf(found);
  const day = simulateDay(measured);
  const scale = scaleOf(measured, day.peakHubs);
  const calm = simulateDay(measured, { ...worstDay, databasesAwayShare: 0, lateShare: 0 });
  const { euroPerMonth: cost } = scale;
  const per = (figure: number): string => n((figure / measured.hubs) * 1_000);
  const [date] = found.machine.date.split('T');
  return `# What would carry ${n(a.hubs)} hubs

On paper, checked by a simulation of a day; nobody has run it. Written by \`tests/bench/school/write-scale.ts\`, which a test holds to: every number
comes from \`tests/bench/school/scale.ts\`, out of what \`npm run bench school\` measured (${date}, ${found.machine.cores} cores of ${found.machine.cpu}, shared with other
work) and of assumptions, marked *. The bench's figures are of one computer: what a network between the parts costs is not in them.

## One school, one account

${n(a.hubs)}* hubs of ${n(a.athletesPerHub)}* athletes are ${n(scale.schools)} schools of ${n(a.hubsPerSchool)}* hubs, ${n(scale.athletes)} athletes. A school is what is kept apart from others:

- **an account** of the message server: subjects (\`slackwater.SCHOOL.from.HUB...\`) and the stream \`slackwater-SCHOOL\` are its own, whatever a hub of another
  school says. Two streams would be no better: what waits is taken by one consumer in order.
- **a leaf node** where several hubs share a building with a poor line: hubs speak with it, it with the cluster; its own JetStream domain keeps what waits.
  Alarms need none of it.
- **a process** of the school (${bytes(measured.schoolResidentBytes)} of memory) and **a database**. One process is one thread: planned to ${n(a.plannedShare * 100)} %* of a core it follows
  ${n(scale.hubsPerSchoolProcess)} hubs in a session at once. A larger school is split by rooms before it is split by database.

Three message servers in a cluster keep ${n(a.replicas)}* copies of each stream: ${n(scale.schools)} streams and as many consumers, that is ${n(2 * scale.schools)} groups that vote. NATS' own advice,
from memory (2026-11-30), is to stay at a few thousand such groups a server; beyond it schools are spread over clusters.

## What an evening takes

| of one hub in a session                         | thousandths of a core |
| ----------------------------------------------- | --------------------: |
| message server                                  | ${per(measured.natsCores)} |
| database                                        | ${per(measured.postgresCores)} |
| school                                          | ${per(measured.schoolCores)} |

It sends ${n(measured.liveMessagesPerS / measured.hubs)} live messages a second (${bytes(measured.liveBytesPerS / measured.hubs)}) and ${bytes(measured.keptBytesPerS / measured.hubs)} a second to be kept. Each hub trains ${n(a.sessionHours)}* hours an evening, two thirds of the middles between 17:30 and 20:30*: in
the simulated day ${n(scale.peakHubs)} hubs are in a session in the same minute. Then:

- ${n(scale.liveMessagesPerS)} live messages and ${n(scale.keptMessagesPerS)} kept ones a second, ${bytes(scale.liveBytesPerS)} and ${bytes(scale.keptBytesPerS)}; with its copies ${bytes(scale.replicatedBytesPerS)} a second to disks.
- ${n(scale.cores)} cores: ${n(scale.natsCores)} for messages (each server handles all copies), ${n(scale.postgresCores)} for databases, ${n(scale.schoolCores)} for schools; ${bytes(scale.schoolMemoryBytes)} of memory for the schools'
  processes: ${n(scale.computers)} computers of ${n(a.coresPerComputer)}* cores and ${bytes(a.memoryPerComputerBytes)}*.

## The worst evening, simulated

At 19:00 the databases of ${n(worstDay.databasesAwayShare * 100)} %* of the schools are away for ${n(worstDay.awayMinutes)}* minutes, and in the same minute ${n(worstDay.lateShare * 100)} %* of all hubs come back with ${n(worstDay.lateHours)}* hours
each. Every school takes what one was measured to take: of ${n(measured.hubs)} hubs in a session, and beside it ${n(measured.caughtUpPacketsPerS)} packets a second of one that came back.

- The fullest stream holds ${bytes(day.mostStreamBytes)} (${bytes(day.mostStreamBytesOfOthers)} where only hubs came back), of the 4 GB after which it refuses and hubs keep it themselves; on a calm evening ${bytes(calm.mostStreamBytesOfOthers)}.
- The last is empty ${n(day.emptyAfterMinutes)} minutes after the databases are back; the last hub that was late has caught up after ${n(day.lateCaughtUpAfterMinutes)}. At most ${bytes(day.peakKeptBytesPerS)} a second are
  written, of ${bytes(calm.peakKeptBytesPerS)} on a calm evening. What went in came out: ${bytes(day.sentBytes)}.

## Where it lies

An athlete's hour of strap and clip is ${bytes(scale.packetBytesPerAthleteHour)} in the archive; with rows of sessions, holds and summaries ${bytes(scale.newBytesPerMonth)} are new each month of ${n(a.daysPerMonth)}* evenings. A pulse wave is not
in it, and the readings of the bench are smoother than people's: ${n(measured.bytesPerPacket)} bytes a packet; real ones may take two or three times that. Packets of the last
${n(a.monthsInDatabase)}* months stay in the database, which is partitioned by month (${n(scale.partitionsPerSchool)} tables a school in ${n(a.yearsKept)}* years); an older month's segments, which never change, go to object storage under their SHA-256,
and the partition is detached: ${bytes(scale.databaseBytes)} in databases, ${bytes(scale.objectBytes)} of objects. **The program does not do this yet**: a segment is read from the database only.

## What it costs

Prices are from memory, 2026-11-30, without any offer asked: ${euro(a.euroPerCoreMonth)} a core, ${euro(a.euroPerGbDatabaseMonth)} a GB of database, ${euro(a.euroPerGbObjectMonth)} a GB of objects, a month; ${euro(a.euroPerGbOut)} a GB that leaves.

| a month                                              |      € |
| ---------------------------------------------------- | -----: |
| computers                                            | ${n(cost.cores)} |
| databases                                            | ${n(cost.database)} |
| objects                                              | ${n(cost.objects)} |
| pages that look at a room, ${n(a.watchedHoursPerMonth)}* hours a hub | ${n(cost.out)} |
| **an athlete**                                       | **${n(scale.euroPerAthleteMonth)}** |

Nobody's work is in it, and no second site.
`;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) writeFileSync(scalePath, scaleText(readResults()));
