// The report that a person with sensors of their own sends: made of a sensor of the independent air by the command itself, and
// searched for everything that tells one sensor or person from another.

import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { hostname, tmpdir, userInfo } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import { runCapture } from '../../hub/commands/capture.ts';
import { Air, type AirSensor } from './air/air.ts';
import { buildRig } from './rig/build-rig.ts';

const hex = (text: string): string => Buffer.from(text).toString('hex');
const readable = (uuid: string, text: string) => ({ uuid, properties: ['read'], value: hex(text) });
/** Its maker puts its address into the number of a service. */
const strap: AirSensor = {
  id: 'strap',
  address: 'c4:b1:a2:55:0e:7d',
  random: true,
  name: "Rosalind's strap",
  services: [
    { uuid: '1800', characteristics: [readable('2a00', "Rosalind's strap")] },
    { uuid: '180f', characteristics: [{ uuid: '2a19', properties: ['read'], value: '4b' }] },
    {
      uuid: '180a',
      characteristics: [
        readable('2a25', 'SN-90817263'),
        readable('2a24', 'Model 5'),
        readable('2a29', 'Maker Q'),
      ],
    },
    {
      uuid: '180d',
      characteristics: [
        { uuid: '2a37', properties: ['notify'], stream: { kind: 'heartRate', everyMs: 1_000 } },
      ],
    },
    {
      uuid: '0000aa010000100080007d0e55a2b1c4',
      characteristics: [{ uuid: '0000aa020000100080007d0e55a2b1c4', properties: ['read'], value: '00' }],
    },
  ],
};

test('it tells how the sensor behaves, and no name, address, serial number, reading or computer', async () => {
  const folder = await mkdtemp(join(tmpdir(), 'report-'));
  const air = await Air.open();
  try {
    await air.add(strap);
    const { radioEntry } = await buildRig();
    const file = join(folder, 'report.json');
    const ended = await runCapture(
      ['Rosalind', '--report', file, '--seconds', '25', '--adapter', `unix:${air.socketPath}`],
      { stdout: { write: () => true }, stderr: { write: () => true }, signal: new AbortController().signal },
      { clock: systemClock, radioEntry },
    );
    expect(ended).toBe(0);
    const text = await readFile(file, 'utf8');
    const report = JSON.parse(text) as { characteristics: { characteristic: string; packets: number }[] };
    const measured = report.characteristics.find(({ characteristic }) => characteristic === '2a37');
    expect(measured?.packets).toBeGreaterThan(3);
    const bare = text.toLowerCase().replaceAll(/[^a-z0-9]/g, '');
    for (const secret of [
      'rosalind',
      'c4b1a2550e7d',
      '7d0e55a2b1c4',
      '90817263',
      hex('SN-90817263'),
      'model5',
      'makerq',
    ])
      expect(bare).not.toContain(secret);
    for (const own of [hostname(), userInfo().username, tmpdir(), process.cwd(), air.socketPath])
      if (own.length > 4) expect(text).not.toContain(own);
    // Readings: what it sent, and its battery.
    for (const sent of air.of('sent', strap.id)) expect(bare).not.toContain(String(sent['bytes']));
    expect(text).not.toMatch(/battery[^\n]*75/i);
  } finally {
    air.close();
    await rm(folder, { recursive: true });
  }
}, 120_000);
