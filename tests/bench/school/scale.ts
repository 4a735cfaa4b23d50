// What carries 10,000 hubs, computed from the figures of the benches (school-results.json) and from assumptions that are named;
// and a day of all of them by the minute, with an evening, a database that is away and hubs that come back, as a check of it.
// Pure: the same figures give the same answer.

import { createRandom } from '../../support/corpus/seeded-random.ts';

/** Of the benches, per the loads that they had. */
export interface MeasuredSchool {
  readonly hubs: number;
  readonly athletesPerHub: number;
  readonly natsCores: number;
  readonly postgresCores: number;
  readonly schoolCores: number;
  readonly liveMessagesPerS: number;
  readonly liveBytesPerS: number;
  readonly keptMessagesPerS: number;
  readonly keptBytesPerS: number;
  readonly schoolResidentBytes: number;
  /** Of a past recording in the archive, and how fast one hub's is taken. */
  readonly bytesPerPacket: number;
  readonly caughtUpPacketsPerS: number;
  /** Rows of a session without its packets. */
  readonly bytesPerSessionRow: number;
}

/** Our choices, and prices from memory, 2026-11-30: to be replaced by one's own. */
export const assumptions = {
  hubs: 10_000,
  hubsPerSchool: 10,
  athletesPerHub: 20,
  sensorPacketsPerAthleteS: 2,
  /** Of each hub on a day on which it trains, and days a month. */
  sessionHours: 2,
  daysPerMonth: 20,
  yearsKept: 5,
  /** Packets lie in the database so long, then in object storage. */
  monthsInDatabase: 3,
  /** Share of a core that is planned with: the rest is for evenings after a holiday. */
  plannedShare: 0.5,
  coresPerComputer: 8,
  memoryPerComputerBytes: 32 * 2 ** 30,
  /** Copies of each message in the cluster of message servers. */
  replicas: 3,
  euroPerCoreMonth: 8,
  euroPerGbDatabaseMonth: 0.1,
  euroPerGbObjectMonth: 0.02,
  euroPerGbOut: 0.05,
  /** Seconds a month of somebody at the school looking at a room, per hub. */
  watchedHoursPerMonth: 20,
} as const;

export type Assumptions = { readonly [Name in keyof typeof assumptions]: number };

export interface Scale {
  readonly athletes: number;
  readonly schools: number;
  readonly peakHubs: number;
  readonly hubsPerSchoolProcess: number;
  readonly natsCores: number;
  readonly postgresCores: number;
  readonly schoolCores: number;
  readonly cores: number;
  readonly schoolMemoryBytes: number;
  readonly computers: number;
  readonly liveMessagesPerS: number;
  readonly liveBytesPerS: number;
  readonly keptMessagesPerS: number;
  readonly keptBytesPerS: number;
  readonly replicatedBytesPerS: number;
  readonly packetBytesPerAthleteHour: number;
  readonly newBytesPerMonth: number;
  readonly databaseBytes: number;
  readonly objectBytes: number;
  readonly partitionsPerSchool: number;
  readonly euroPerMonth: {
    readonly cores: number;
    readonly database: number;
    readonly objects: number;
    readonly out: number;
  };
  readonly euroPerAthleteMonth: number;
}

const perHub = (measured: MeasuredSchool, figure: number): number => figure / measured.hubs;

/** `peakHubs`: in a session at the same moment, of `simulateDay`. */
export function scaleOf(measured: MeasuredSchool, peakHubs: number, a: Assumptions = assumptions): Scale {
  const of = (figure: number): number => perHub(measured, figure) * peakHubs;
  const schools = a.hubs / a.hubsPerSchool;
  // Messages go through all the servers that keep a copy.
  const natsCores = (of(measured.natsCores) * a.replicas) / a.plannedShare;
  const postgresCores = of(measured.postgresCores) / a.plannedShare;
  const schoolCores = of(measured.schoolCores) / a.plannedShare;
  const cores = natsCores + postgresCores + schoolCores;
  const schoolMemoryBytes = schools * measured.schoolResidentBytes;
  const packetBytesPerAthleteHour = measured.bytesPerPacket * a.sensorPacketsPerAthleteS * 3_600;
  const sessionsPerMonth = a.hubs * a.daysPerMonth;
  const packetBytesPerMonth =
    packetBytesPerAthleteHour * a.athletesPerHub * a.sessionHours * sessionsPerMonth;
  const rowBytesPerMonth = measured.bytesPerSessionRow * a.athletesPerHub * sessionsPerMonth;
  const monthsKept = a.yearsKept * 12;
  const databaseBytes = packetBytesPerMonth * a.monthsInDatabase + rowBytesPerMonth * monthsKept;
  const objectBytes = packetBytesPerMonth * (monthsKept - a.monthsInDatabase);
  const outBytes = perHub(measured, measured.liveBytesPerS) * a.hubs * a.watchedHoursPerMonth * 3_600;
  const computers = Math.max(
    Math.ceil(cores / a.coresPerComputer),
    Math.ceil(schoolMemoryBytes / a.memoryPerComputerBytes),
  );
  const gb = 1e9;
  const euroPerMonth = {
    cores: computers * a.coresPerComputer * a.euroPerCoreMonth,
    database: (databaseBytes / gb) * a.euroPerGbDatabaseMonth,
    objects: (objectBytes / gb) * a.euroPerGbObjectMonth,
    out: (outBytes / gb) * a.euroPerGbOut,
  };
  const euro = euroPerMonth.cores + euroPerMonth.database + euroPerMonth.objects + euroPerMonth.out;
  return {
    athletes: a.hubs * a.athletesPerHub,
    schools,
    peakHubs,
    hubsPerSchoolProcess: Math.floor(a.plannedShare / perHub(measured, measured.schoolCores)),
    natsCores,
    postgresCores,
    schoolCores,
    cores,
    schoolMemoryBytes,
    computers,
    liveMessagesPerS: of(measured.liveMessagesPerS),
    liveBytesPerS: of(measured.liveBytesPerS),
    keptMessagesPerS: of(measured.keptMessagesPerS),
    keptBytesPerS: of(measured.keptBytesPerS),
    replicatedBytesPerS: of(measured.keptBytesPerS) * a.replicas,
    packetBytesPerAthleteHour,
    newBytesPerMonth: packetBytesPerMonth + rowBytesPerMonth,
    databaseBytes,
    objectBytes,
    // Four tables that are partitioned by month (hub/school/archive/partitions.ts).
    partitionsPerSchool: 4 * monthsKept,
    euroPerMonth,
    euroPerAthleteMonth: euro / (a.hubs * a.athletesPerHub),
  };
}

export interface DaySettings {
  readonly seed: number;
  /** One in so many schools has its database away from `awayFromMinute` for `awayMinutes`. */
  readonly databasesAwayShare: number;
  readonly awayFromMinute: number;
  readonly awayMinutes: number;
  /** So many of the hubs were cut off for days, and come back in the same minute with what they have. */
  readonly lateShare: number;
  readonly lateHours: number;
  readonly lateAtMinute: number;
}

export const worstDay: DaySettings = {
  seed: 1,
  databasesAwayShare: 0.1,
  awayFromMinute: 19 * 60,
  awayMinutes: 60,
  lateShare: 0.05,
  lateHours: 6,
  lateAtMinute: 19 * 60,
};

export interface DayResult {
  /** Hubs in a session in the same minute, at most. */
  readonly peakHubs: number;
  /** In the stream of one school, at most: of those whose database was away, and of those with hubs that came back. */
  readonly mostStreamBytes: number;
  readonly mostStreamBytesOfOthers: number;
  /** Until the last stream was empty, after the database was back; after the late hubs came back. */
  readonly emptyAfterMinutes: number;
  readonly lateCaughtUpAfterMinutes: number;
  readonly peakKeptBytesPerS: number;
  /** What went in and what came out, of all hubs and the day: they must be equal. */
  readonly sentBytes: number;
  readonly keptBytes: number;
}

/** A school's process takes what one was measured to take: of hubs in a session, and beside it of one that caught up. */
export function simulateDay(
  measured: MeasuredSchool,
  day: DaySettings = worstDay,
  a: Assumptions = assumptions,
): DayResult {
  const random = createRandom(day.seed);
  const schools = a.hubs / a.hubsPerSchool;
  const packetBytesPerS = measured.bytesPerPacket * a.athletesPerHub * a.sensorPacketsPerAthleteS;
  const hubBytesPerMinute = Math.max(perHub(measured, measured.keptBytesPerS), packetBytesPerS) * 60;
  const takenPerMinute =
    (measured.keptBytesPerS + measured.caughtUpPacketsPerS * measured.bytesPerPacket) * 60;
  const minutes = 24 * 60 + 12 * 60;
  const active = new Uint16Array(schools * minutes);
  for (let hub = 0; hub < a.hubs; hub++) {
    // Sessions lie around seven in the evening, two thirds of them within an hour and a half.
    const from = Math.round(19 * 60 - a.sessionHours * 30 + random.normal() * 90);
    for (let minute = Math.max(0, from); minute < from + a.sessionHours * 60; minute++)
      active[Math.floor(hub / a.hubsPerSchool) * minutes + minute]! += 1;
  }
  const late = new Uint16Array(schools);
  for (let count = Math.round(a.hubs * day.lateShare); count > 0; count--)
    late[Math.floor(random.next() * schools)]! += 1;
  const lateBytes = day.lateHours * 3_600 * packetBytesPerS;
  const all = { peakHubs: 0, most: 0, mostOfOthers: 0, emptyAt: 0, lateAt: 0, peakKept: 0, sent: 0, kept: 0 };
  const perMinute = new Float64Array(minutes);
  const hubsIn = new Uint32Array(minutes);
  for (let school = 0; school < schools; school++) {
    const isAway = school < schools * day.databasesAwayShare;
    let waiting = 0;
    for (let minute = 0; minute < minutes; minute++) {
      const hubs = active[school * minutes + minute]!;
      hubsIn[minute]! += hubs;
      const isReturn = minute === day.lateAtMinute;
      const sent = hubs * hubBytesPerMinute + (isReturn ? late[school]! * lateBytes : 0);
      all.sent += sent;
      waiting += sent;
      const isDown = isAway && minute >= day.awayFromMinute && minute < day.awayFromMinute + day.awayMinutes;
      const taken = isDown ? 0 : Math.min(waiting, takenPerMinute);
      waiting -= taken;
      all.kept += taken;
      perMinute[minute]! += taken;
      if (isAway) all.most = Math.max(all.most, waiting);
      else all.mostOfOthers = Math.max(all.mostOfOthers, waiting);
      if (waiting === 0) continue;
      if (isAway) all.emptyAt = Math.max(all.emptyAt, minute + 1);
      else if (late[school]! > 0 && minute >= day.lateAtMinute) all.lateAt = Math.max(all.lateAt, minute + 1);
    }
  }
  return {
    peakHubs: hubsIn.reduce((most, each) => Math.max(most, each), 0),
    mostStreamBytes: all.most,
    mostStreamBytesOfOthers: all.mostOfOthers,
    emptyAfterMinutes: Math.max(0, all.emptyAt - day.awayFromMinute - day.awayMinutes),
    lateCaughtUpAfterMinutes: Math.max(0, all.lateAt - day.lateAtMinute),
    peakKeptBytesPerS: perMinute.reduce((most, each) => Math.max(most, each), 0) / 60,
    sentBytes: all.sent,
    keptBytes: all.kept,
  };
}
