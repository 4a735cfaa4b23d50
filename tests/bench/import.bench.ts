// Importing into the built hub while it runs: a CSV of 100 MB and an EDF of twelve hours with a 250 Hz wave. Speed, memory
// beyond that of the idle hub, and the longest pause of the thread that carries alarms (goal 10 ms).

import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { createWriteStream, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';

const root = new URL('../..', import.meta.url).pathname;
const run = promisify(execFile);
/** BENCH_IMPORT_SHARE=0.1 measures on a tenth of the sizes, where time is short. */
const share = Number(process.env['BENCH_IMPORT_SHARE'] ?? 1);

async function writeLines(path: string, lines: Iterable<string>): Promise<void> {
  const file = createWriteStream(path);
  for (const line of lines) if (!file.write(line)) await once(file, 'drain');
  file.end();
  await once(file, 'finish');
}

/** A table of a 100 Hz wave with readings each second. */
function* tableOf(bytes: number): Generator<string> {
  yield 'time_s,pleth,SpO2,Pulse\n';
  let size = 0;
  for (let i = 0; size < bytes; i += 100) {
    let text = '';
    for (let k = i; k < i + 100; k += 1)
      text += `${(k / 100).toFixed(3)},${Math.sin(k / 16).toFixed(9)},${k % 100 === 0 ? `${97 - (k % 700) / 100},61` : ','}\n`;
    size += text.length;
    yield text;
  }
}

/** EDF of HR, SpO2 and a 250 Hz wave. */
async function writeEdf(path: string, hours: number): Promise<void> {
  const signals = [
    ['HR', 'bpm', 0, 250, 0, 2_500, 1],
    ['SpO2', '%', 0, 100, 0, 1_000, 1],
    ['Pleth', 'mV', -1, 1, -32_767, 32_767, 250],
  ] as const;
  const records = hours * 3_600;
  const pad = (text: string | number, width: number): string => String(text).padEnd(width);
  const widths = [16, 80, 8, 8, 8, 8, 8, 80, 8, 32];
  const place = [0, -1, 1, 2, 3, 4, 5, -1, 6, -1];
  const head = [
    `${pad('0', 8) + pad('X X X X', 80) + pad('lab', 80)}13.05.2421.00.00${pad(1_024, 8)}${pad('', 44)}`,
    pad(records, 8) + pad(1, 8) + pad(3, 4),
    ...widths.map((width, i) =>
      signals.map((signal) => pad(place[i]! < 0 ? '' : signal[place[i]!]!, width)).join(''),
    ),
  ].join('');
  const file = createWriteStream(path);
  file.write(head, 'latin1');
  for (let second = 0; second < records; second += 1) {
    const record = Buffer.alloc(504);
    record.writeInt16LE(600 + (second % 90), 0);
    record.writeInt16LE(970 - (second % 60), 2);
    for (let i = 0; i < 250; i += 1)
      record.writeInt16LE(Math.round(30_000 * Math.sin((second * 250 + i) / 40)), 4 + 2 * i);
    if (!file.write(record)) await once(file, 'drain');
  }
  file.end();
  await once(file, 'finish');
}

const residentMb = (pid: number): number =>
  Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? 0) / 1_024;

interface Pause {
  readonly longestMs: number;
  readonly p999Ms: number;
  readonly longestOwnMs: number;
}

async function pauseOf(hub: ChildProcess): Promise<Pause> {
  const answer = once(hub, 'message');
  hub.send('pause');
  return (await answer)[0] as Pause;
}

export async function benchImport(): Promise<Record<string, number>> {
  const folder = mkdtempSync(join(tmpdir(), 'bench-import-'));
  const hub = spawn(
    process.execPath,
    [
      '--import',
      join(root, 'tests/bench/watch-loop.mjs'),
      join(root, 'hub/slackwater.mjs'),
      'demo',
      '--port',
      '0',
      '--data',
      folder,
    ],
    { stdio: ['ignore', 'pipe', 'inherit', 'ipc'] },
  );
  try {
    let said = '';
    for await (const piece of hub.stdout!) {
      said += String(piece);
      if (/http:\/\/127\.0\.0\.1:\d+|http:\/\/localhost:\d+/.test(said)) break;
    }
    const url = /http:\/\/(?:127\.0\.0\.1|localhost):\d+/.exec(said)![0];
    const figures: Record<string, number> = {};
    // What the machine itself does to a hub that imports nothing: without it the pauses below mean nothing.
    await new Promise((resolve) => setTimeout(resolve, 5_000));
    hub.send('begin');
    await new Promise((resolve) => setTimeout(resolve, 30_000));
    const idle = await pauseOf(hub);
    figures['idle30sLongestPauseMs'] = idle.longestMs;
    figures['idle30sPause999Ms'] = idle.p999Ms;
    figures['idle30sLongestOwnMs'] = idle.longestOwnMs;
    const csv = join(folder, 'night.csv');
    const edf = join(folder, 'night.edf');
    const lines = join(folder, 'lines.csv');
    await writeLines(csv, tableOf(100e6 * share));
    await writeEdf(edf, Math.ceil(12 * share));
    await writeLines(
      lines,
      Array.from({ length: 65 }, () => '\n'.repeat(1e6)),
    );
    for (const [name, path, status] of [
      ['csv100Mb', csv, '201'],
      ['edf12h250Hz', edf, '201'],
      ['newlines65Mb', lines, '400'],
    ] as const) {
      await new Promise((resolve) => setTimeout(resolve, 3_000));
      const idleMb = residentMb(hub.pid!);
      let mostMb = idleMb;
      const sampling = setInterval(() => {
        mostMb = Math.max(mostMb, residentMb(hub.pid!));
      }, 20);
      hub.send('begin');
      const plan = { newAthleteName: name, startedWallAtMs: 1.7e12 };
      const begun = performance.now();
      const { stdout } = await run('curl', [
        ...['-s', '-o', join(folder, 'answer'), '-w', '%{http_code}', '-X', 'POST', '-T', path],
        ...['-H', 'content-type: application/octet-stream'],
        `${url}/api/import?fileName=${name}&plan=${encodeURIComponent(JSON.stringify(plan))}`,
      ]);
      const seconds = (performance.now() - begun) / 1_000;
      clearInterval(sampling);
      if (stdout !== status)
        throw new Error(`${name}: ${stdout} ${readFileSync(join(folder, 'answer'), 'utf8')}`);
      const pause = await pauseOf(hub);
      figures[`${name}Seconds`] = seconds;
      figures[`${name}MbPerSecond`] = statSync(path).size / 1e6 / seconds;
      figures[`${name}MemoryMb`] = mostMb - idleMb;
      figures[`${name}LongestPauseMs`] = pause.longestMs;
      figures[`${name}Pause999Ms`] = pause.p999Ms;
      figures[`${name}LongestOwnMs`] = pause.longestOwnMs;
    }
    return figures;
  } finally {
    hub.kill();
    await once(hub, 'exit');
    rmSync(folder, { recursive: true, force: true });
  }
}
