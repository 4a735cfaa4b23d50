// Half an hour of the whole program on the independent air: eight sensors, fades and losses at random. Says whether every
// packet that the air handed over was stored, and how often links were made anew and sensor alarms raised without cause. Adds its
// figures to bluetooth-air-results.json.
// Each packet that is missing is told with what became of its link about then. `--log FILE` keeps what the hub printed.
// Not part of `npm test`: npx tsx tests/bench/bluetooth-air.bench.ts [--minutes 30] [--seed 1] [--log FILE]

import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { SeededRandom } from '../../hub/sensors/simulated/seeded-random.ts';
import { Air, type AirSensor, idOf } from '../bluetooth/air/air.ts';
import { until } from '../bluetooth/rig/virtual-air.ts';
import { startHub } from '../support/hub-process.ts';
import { hello, openTestPage } from '../support/test-page.ts';

const { values: options } = parseArgs({
  options: {
    minutes: { type: 'string', default: '30' },
    seed: { type: 'string', default: '1' },
    log: { type: 'string' },
  },
});
const minutes = Number(options.minutes);
const chance = new SeededRandom(Number(options.seed));
/**
 * A sensor alarm has a cause where the air had handed over nothing of that sensor for so long (the hub says to tell silence within
 * 3 s), or where its link had ended since the last packet, which is told at once.
 */
const causeAfterMs = 2_000;
/** Connection Timeout (Core 5.3 Vol 1 Part F s1.3): the air says so of a link that outlived no fade, and of a drop. */
const timedOut = 0x08;

const name = { uuid: '1800', characteristics: [{ uuid: '2a00', properties: ['read'], value: '53' }] };
const battery = { uuid: '180f', characteristics: [{ uuid: '2a19', properties: ['read'], value: '50' }] };
/** Four people, each with a strap and a clip that send once a second. */
const sensors: readonly AirSensor[] = Array.from({ length: 8 }, (_, index) => {
  const isStrap = index % 2 === 0;
  const stream = { kind: isStrap ? ('heartRate' as const) : ('oximeter' as const), everyMs: 1_000 };
  return {
    id: `s${index}`,
    address: `c4:b1:a2:33:07:0${index}`,
    random: true,
    name: `${isStrap ? 'Strap' : 'Clip'} ${index >> 1}`,
    services: [
      name,
      battery,
      {
        uuid: isStrap ? '180d' : '1822',
        characteristics: [{ uuid: isStrap ? '2a37' : '2a5f', properties: ['notify'], stream }],
      },
    ],
  };
});

const directory = mkdtempSync(join(tmpdir(), 'slackwater-air-'));
const data = join(directory, 'data');
const store = openSqliteStore({ directory: data });
for (const [index, sensor] of sensors.entries()) {
  const athleteId = `a${index >> 1}`;
  store.saveAthlete({ athleteId, name: `Person ${index >> 1}`, simulated: true, settings: initialSettings });
  store.assignSensor(idOf(sensor), athleteId);
}
store.close();

const air = await Air.open('--seed', options.seed, '--tell-delivered');
for (const sensor of sensors) await air.add(sensor);
const hub = await startHub(['start', '--data', data, '--port', '0', '--adapter', `unix:${air.socketPath}`]);
const disturbances = { fade: 0, drop: 0, vanish: 0 };
const page = openTestPage(hub.url.replace(/\/$/, ''));
page.send(hello);
await page.until('welcome');
await until(
  'all sensors to send',
  () => sensors.every(({ id }) => air.of('delivered', id).length > 3),
  120_000,
);
page.send({ type: 'startSession', requestId: 's', athleteIds: ['a0', 'a1', 'a2', 'a3'], title: '' });
await page.until('done', (message) => message.requestId === 's');
page.close();
/** What the page says goes to nobody: the rest is asked of the database. */
const monotonicNow = (): number => Number(process.hrtime.bigint()) / 1e6;
const wallApartMs = Date.now() - monotonicNow();
const beganAt = monotonicNow();
const loads: number[] = [];

async function disturb(): Promise<void> {
  const sensor = sensors[Math.floor(chance.next() * sensors.length)]!;
  const kind = chance.next();
  if (kind < 0.75) {
    // From a fifth of a second to eight, short ones more often: links end after 5.12 s without contact.
    disturbances.fade += 1;
    await air.order({ do: 'fade', id: sensor.id, ms: Math.round(200 * 40 ** chance.next()) });
  } else if (kind < 0.9) {
    disturbances.drop += 1;
    await air.order({ do: 'drop', id: sensor.id });
  } else {
    disturbances.vanish += 1;
    await air.order({ do: 'vanish', id: sensor.id });
    void wait(4_000 + 8_000 * chance.next()).then(() => air.order({ do: 'set', id: sensor.id, on: true }));
  }
}
while (monotonicNow() - beganAt < minutes * 60_000) {
  await wait(2_000 + 8_000 * chance.next());
  loads.push(loadavg()[0]!);
  await disturb();
}
await wait(15_000);
const endedAt = monotonicNow();
await hub.stop();
if (options.log !== undefined) writeFileSync(options.log, hub.output());
const delivered = new Map(
  sensors.map(({ id }) => [id, air.of('delivered', id).map(({ t, bytes }) => ({ t, bytes: String(bytes) }))]),
);
const linkEnds = air.of('disconnected');
const linkBegins = air.of('connected');
const linksMade = air.of('connected').filter(({ t }) => t > beganAt).length;
const linksEnded = air.of('disconnected').filter(({ t }) => t > beganAt && t < endedAt - 5_000).length;
air.close();

const recorded = openSqliteStore({ directory: data });
const { sessionId } = recorded.listSessions()[0]!.session;
const session = recorded.readSession(sessionId)!;
const stored = new Map<string, string[]>();
for (const { sensorId, characteristic, bytes } of recorded.readPackets(sessionId)) {
  if (characteristic !== '2a37' && characteristic !== '2a5f') continue;
  stored.set(sensorId, [...(stored.get(sensorId) ?? []), Buffer.from(bytes).toString('hex')]);
}
recorded.close();
rmSync(directory, { recursive: true, force: true });

/** From the first stored one on to the last: what was handed over before the session and after it is in nobody's recording. */
function compare(sensor: AirSensor) {
  const kept = stored.get(idOf(sensor)) ?? [];
  const all = delivered.get(sensor.id)!;
  const from = all.findIndex(({ bytes }) => bytes === kept[0]);
  const due = all.slice(from, all.findLastIndex(({ bytes }) => bytes === kept.at(-1)) + 1);
  const missing: Loss[] = [];
  let at = 0;
  for (const { t, bytes } of due) {
    if (kept[at] === bytes) at += 1;
    else missing.push(lossAt(sensor.id, t));
  }
  return { delivered: due.length, stored: kept.length, missing, extra: kept.length - at };
}

interface Loss {
  readonly sensor: string;
  /** Since the session's start, s. */
  readonly atS: number;
  /** Since its link was made, and until it ended, by the air; with the reason. */
  readonly linkAgeS: number;
  readonly linkEndsInS: number;
  readonly endReason: unknown;
  /** Links of other sensors that ended within a second of this one's end: all at once is a radio begun anew. */
  readonly othersEnded: number;
}
function lossAt(id: string, t: number): Loss {
  const begun = linkBegins.findLast((link) => link.id === id && link.t <= t);
  const end = linkEnds.find((link) => link.id === id && link.t >= t);
  const others = linkEnds.filter((link) => link.id !== id && Math.abs(link.t - (end?.t ?? 0)) < 1_000);
  return {
    sensor: id,
    atS: (t - beganAt) / 1_000,
    linkAgeS: (t - (begun?.t ?? t)) / 1_000,
    linkEndsInS: ((end?.t ?? Number.NaN) - t) / 1_000,
    endReason: end?.['reason'],
    othersEnded: others.length,
  };
}
const compared = sensors.map(compare);
const sum = (of: (one: (typeof compared)[number]) => number): number =>
  compared.reduce((total, one) => total + of(one), 0);

const wallToAir = (wallMs: number): number => wallMs - wallApartMs;
/** How long nothing had come of it; for ever where its link had ended. */
const silenceAt = (sensorId: string, at: number): number => {
  const sensor = sensors.find((one) => idOf(one) === sensorId)!;
  const lastAt = delivered.get(sensor.id)!.findLast(({ t }) => t <= at)?.t ?? beganAt;
  const hasEnded = linkEnds.some(({ id, t }) => id === sensor.id && t >= lastAt && t <= at);
  return hasEnded ? Number.POSITIVE_INFINITY : at - lastAt;
};
/** Of an alarm that names no sensor, whichever of its athlete it may mean was silent longest. */
const mayMean = ({ athleteId, alarm }: (typeof session.alarms)[number]): readonly string[] => {
  const theirs = sensors.flatMap((sensor, index) => (athleteId === `a${index >> 1}` ? [idOf(sensor)] : []));
  if (alarm.sensorId !== null) return [alarm.sensorId];
  if (alarm.subject === 'oximeter') return theirs.slice(1);
  return alarm.subject === 'heartRateSensor' ? theirs.slice(0, 1) : theirs;
};
const sensorAlarms = session.alarms.filter(({ alarm }) =>
  ['sensorLost', 'readingsStale'].includes(alarm.kind),
);
const startedAt = wallToAir(session.session.startedWallAtMs);
const withoutCause = sensorAlarms.filter((stored) => {
  const at = startedAt + stored.alarm.raisedAtMs;
  return Math.max(...mayMean(stored).map((sensorId) => silenceAt(sensorId, at))) < causeAfterMs;
});
const lostTold = session.linkEvents.filter(({ link }) => link === 'lost');
const lostWithoutCause = lostTold.filter(
  ({ sensorId, atMs }) => silenceAt(sensorId, startedAt + atMs) < causeAfterMs,
);
const hours = (endedAt - beganAt) / 3_600_000;

/** Links that neither a drop nor a vanishing nor a fade longer than the link's timeout ended: by whom, and after what. */
const orders = air.of('ordered');
const otherEnds = linkEnds
  .filter(({ t }) => t > beganAt && t < endedAt - 5_000)
  .flatMap((end) => {
    const before = orders.filter(({ id, t }) => id === end.id && t <= end.t && end.t - t < 12_000);
    const isOrdered =
      end['reason'] === timedOut || before.some((order) => order['do'] === 'drop' && end.t - order.t < 100);
    const others = linkEnds.filter((other) => other.id !== end.id && Math.abs(other.t - end.t) < 1_000);
    const lastAt = delivered.get(end.id!)!.findLast(({ t }) => t <= end.t)?.t ?? beganAt;
    return isOrdered
      ? []
      : [
          {
            sensor: end.id,
            atS: (end.t - beganAt) / 1_000,
            reason: end['reason'],
            silentForS: (end.t - lastAt) / 1_000,
            linkAgeS: (end.t - linkBegins.findLast(({ id, t }) => id === end.id && t <= end.t)!.t) / 1_000,
            othersEnded: others.length,
            orderedBefore: before.map((order) => ({
              do: order['do'],
              ms: order['ms'],
              beforeS: (end.t - order.t) / 1_000,
            })),
          },
        ];
  });
const result = {
  seed: Number(options.seed),
  minutes: Math.round(hours * 600) / 10,
  load: { mean: loads.reduce((a, b) => a + b, 0) / loads.length, most: Math.max(...loads) },
  disturbances,
  packets: {
    delivered: sum((one) => one.delivered),
    stored: sum((one) => one.stored),
    missing: sum((one) => one.missing.length),
    extra: sum((one) => one.extra),
  },
  losses: compared.flatMap(({ missing }) => missing),
  links: { ended: linksEnded, madeAgain: linksMade, madeAgainPerHour: linksMade / hours },
  otherEnds,
  sensorAlarms: {
    raised: sensorAlarms.length,
    withoutCause: withoutCause.length,
    withoutCausePerHour: withoutCause.length / hours,
  },
  toldLost: { times: lostTold.length, withoutCause: lostWithoutCause.length },
};
const rounded = (value: unknown): string =>
  JSON.stringify(value, (_key, each) => (typeof each === 'number' ? Math.round(each * 10) / 10 : each), 2);
const kept = new URL('./bluetooth-air-results.json', import.meta.url);
const before = existsSync(kept) ? (JSON.parse(readFileSync(kept, 'utf8')) as unknown[]) : [];
writeFileSync(kept, `${rounded([...before, result])}\n`);
process.stdout.write(`${rounded(result)}\n`);
process.exit(0);
