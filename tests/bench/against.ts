// `npm run bench -- --against COMMIT [NAME ...]`: each bench by turns in this tree and in another commit's, in processes of
// their own, and the ratio of every figure that both give. Drift of a shared machine falls on both alike.
//
// The interval is that of the pairs from least to greatest. Where pairs are independent it holds the true median ratio with a
// probability of 1 - 2^(1 - n) (the sign test turned round; exact, whatever the distribution): 0.97 for six.

import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { quantile } from './hub.bench.ts';

type Figures = Readonly<Record<string, number>>;

export interface Compared {
  readonly here: number;
  readonly there: number;
  /** Here by there: median, least and greatest of the pairs. */
  readonly ratio: { readonly median: number; readonly least: number; readonly greatest: number };
}

export interface Comparison {
  readonly against: string;
  readonly rounds: number;
  readonly loadBefore: number | undefined;
  readonly loadAfter: number | undefined;
  /** By bench and figure. */
  readonly figures: Readonly<Record<string, Readonly<Record<string, Compared>>>>;
}

/** @param root of this tree, built. */
export async function compareAgainst(
  root: string,
  commit: string,
  names: readonly string[],
  rounds: number,
): Promise<Comparison> {
  const against = git(root, ['rev-parse', '--short', `${commit}^{commit}`]);
  const loadBefore = loadavg()[0];
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-against-'));
  const other = join(folder, 'tree');
  git(root, ['worktree', 'add', '--detach', other, against]);
  try {
    symlinkSync(join(root, 'node_modules'), join(other, 'node_modules'));
    execFileSync('npm', ['run', '--silent', 'build'], { cwd: other, stdio: ['ignore', 'ignore', 'inherit'] });
    const figures: Record<string, Record<string, Compared>> = {};
    for (const name of names) {
      const pairs: (readonly [here: Figures, there: Figures])[] = [];
      for (let round = 0; round < rounds; round += 1) {
        process.stderr.write(`${name}, pair ${round + 1} of ${rounds}\n`);
        // Turned each time, so that neither always runs on what the other has warmed.
        const first = await runIn(round % 2 === 0 ? root : other, name);
        const second = await runIn(round % 2 === 0 ? other : root, name);
        pairs.push(round % 2 === 0 ? [first, second] : [second, first]);
      }
      figures[name] = comparePairs(pairs);
    }
    return { against, rounds, loadBefore, loadAfter: loadavg()[0], figures };
  } finally {
    git(root, ['worktree', 'remove', '--force', other]);
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Of every figure that all runs give and that is not 0 there. */
export function comparePairs(
  pairs: readonly (readonly [here: Figures, there: Figures])[],
): Record<string, Compared> {
  const compared: Record<string, Compared> = {};
  for (const figure of Object.keys(pairs[0]?.[0] ?? {})) {
    const here = pairs.map(([figures]) => figures[figure] ?? Number.NaN);
    const there = pairs.map(([, figures]) => figures[figure] ?? Number.NaN);
    const ratios = here.map((value, index) => value / there[index]!);
    if (!ratios.every(Number.isFinite)) continue;
    compared[figure] = {
      here: middleOf(here),
      there: middleOf(there),
      ratio: { median: middleOf(ratios), least: Math.min(...ratios), greatest: Math.max(...ratios) },
    };
  }
  return compared;
}

/** The median: of an even number, between the two in the middle. */
function middleOf(values: readonly number[]): number {
  const mirrored = values.map((value) => -value);
  return (quantile(values, 0.5) - quantile(mirrored, 0.5)) / 2;
}

export function tableOf({ against, rounds, figures }: Comparison): string {
  const lines = [`here by ${against}: median of ${rounds} pairs, least to greatest`];
  for (const [name, compared] of Object.entries(figures))
    for (const [figure, { here, there, ratio }] of Object.entries(compared))
      lines.push(
        [
          `${name} ${figure}`.padEnd(48),
          `${here.toPrecision(4)} / ${there.toPrecision(4)}`.padEnd(24),
          `${ratio.median.toFixed(3)} (${ratio.least.toFixed(3)} to ${ratio.greatest.toFixed(3)})`,
        ].join(' '),
      );
  return lines.join('\n');
}

/** The bench's figures, and the processor time of its whole process by the kernel's account: older commits don't tell theirs. */
async function runIn(tree: string, name: string): Promise<Figures> {
  const script = 'npx tsx tests/bench/run-bench.ts "$0"; code=$?; times >&2; exit $code';
  const child = spawn('sh', ['-c', script, name], { cwd: tree, stdio: ['ignore', 'pipe', 'pipe'] });
  let output = '';
  let complaints = '';
  child.stdout.on('data', (piece) => {
    output += String(piece);
  });
  child.stderr.on('data', (piece) => {
    complaints += String(piece);
  });
  const [code] = (await once(child, 'close')) as [number | null];
  if (code !== 0) throw new Error(`${name} ended with ${code} in ${tree}: ${complaints}`);
  const { results } = JSON.parse(output) as { results: Record<string, Figures> };
  const figures = results[name];
  if (figures === undefined) throw new Error(`there is no bench ${name} in ${tree}`);
  return { ...figures, wholeProcessorMs: processorMsOf(complaints) };
}

/** What the shell's `times` says last: user and system time of what it ran, as "1m2.34s 0m0.56s" (POSIX). */
export function processorMsOf(times: string): number {
  const last = times.trim().split('\n').at(-1) ?? '';
  return [...last.matchAll(/(\d+)m([\d.]+)s/g)].reduce(
    (sum, [, minutes, seconds]) => sum + 60_000 * Number(minutes) + 1_000 * Number(seconds),
    0,
  );
}

const git = (root: string, args: readonly string[]): string =>
  execFileSync('git', args, { cwd: root, encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] }).trim();
