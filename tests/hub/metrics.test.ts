// The hub's own figures for other programs: read by the reference parser of the format, nothing of any person in them.

import { execFileSync } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { openPageHub, type PageHub } from '../support/page-hub.ts';
import { createTestDevice } from '../support/test-device.ts';

let hub: PageHub | undefined;
afterEach(async () => {
  await hub?.close();
  hub = undefined;
});

interface Sample {
  readonly name: string;
  readonly labels: Readonly<Record<string, string>>;
  readonly value: number;
}

/** By prometheus_client of Debian, whose OpenMetrics parser is the reference implementation; it throws for what is not in order. */
function parsed(text: string): Sample[] {
  const program = `import sys,json
from prometheus_client.openmetrics.parser import text_string_to_metric_families as read
print(json.dumps([dict(name=s.name,labels=s.labels,value=s.value) for f in read(sys.stdin.read()) for s in f.samples]))`;
  return JSON.parse(execFileSync('/usr/bin/python3', ['-c', program], { input: text, encoding: 'utf8' }));
}

async function ask(): Promise<{ text: string; samples: Sample[]; of: (name: string) => number | undefined }> {
  const answer = await fetch(`${hub!.url}/metrics`);
  expect(answer.status).toBe(200);
  expect(answer.headers.get('content-type')).toContain('application/openmetrics-text');
  const text = await answer.text();
  const samples = parsed(text);
  return { text, samples, of: (name) => samples.find((each) => each.name === `slackwater_${name}`)?.value };
}

test('says how the hub does, to whoever asks on its own computer', async () => {
  hub = await openPageHub({ athleteCount: 2, sessionRunning: false });
  const before = await ask();
  expect(before.of('session_running')).toBe(0);
  expect(before.of('resident_memory_bytes')).toBeGreaterThan(1e7);
  hub.hub.startSession(
    hub.athletes.map(({ athleteId }) => athleteId),
    'evening',
  );
  hub.pass(20);
  hub.live(0, { spo2Percent: 80, heartRateBpm: 60 });
  hub.pass(10);
  const { of, samples } = await ask();
  expect(of('session_running')).toBe(1);
  expect(of('athletes_monitored')).toBe(2);
  // Two sensors each, a packet a second.
  expect(of('packets_total')).toBeGreaterThanOrEqual(100);
  const floor = samples.find(
    ({ labels }) => labels['kind'] === 'floorBreached' && labels['acknowledged'] === 'false',
  );
  expect(floor).toMatchObject({ name: 'slackwater_alarms', value: 1, labels: { priority: 'high' } });
  expect(samples.filter(({ name }) => name === 'slackwater_alarms_raised_total').length).toBeGreaterThan(0);
});

test('says nothing of any person', async () => {
  hub = await openPageHub({ athleteCount: 3 });
  hub.pass(30);
  const { text } = await ask();
  for (const { athleteId, name, oximeter } of hub.athletes)
    for (const word of [athleteId, name, oximeter.sensorId, oximeter.name]) expect(text).not.toContain(word);
  expect(text).not.toMatch(/spo2_percent|heart_rate|bpm/);
});

test('what has ended is no longer counted as standing', async () => {
  hub = await openPageHub({ athleteCount: 1 });
  hub.live(0, { spo2Percent: 80, heartRateBpm: 60 });
  hub.pass(20);
  expect((await ask()).samples.some(({ name }) => name === 'slackwater_alarms')).toBe(true);
  hub.hub.endSession();
  expect((await ask()).samples.some(({ name }) => name === 'slackwater_alarms')).toBe(false);
});

test('is not for joined devices', async () => {
  // Goes with the run's own folder: the hub writes into it until it is closed.
  hub = await openPageHub({ athleteCount: 1, lanIn: mkdtempSync(join(tmpdir(), 'slackwater-metrics-')) });
  const { name, value } = await hub.joinedCookie('coach', null, 'Tablet');
  const device = createTestDevice(hub.lanUrl);
  device.cookie = `${name}=${value}`;
  expect((await device.ask('GET', '/api/athletes')).status).toBe(200);
  expect((await device.ask('GET', '/metrics')).status).toBe(404);
  device.close();
});
