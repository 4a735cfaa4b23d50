// slackwater plan preview FILE: what a plan asks for and what it is expected to do, as text on standard output.

import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { parseArgs } from 'node:util';
import type { Plan } from '../../shared/plan.ts';
import { floorRangePercent } from '../../shared/schema-parts.ts';
import { clockText } from '../../shared/words/formats.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { populationOxygen } from '../../src/oxygen/oxygen-parameters.ts';
import { checkPlan } from '../../src/plans/check-plan.ts';
import { describePlan } from '../../src/plans/describe-plan.ts';
import { previewPlanEffect, sayNoEffect } from '../../src/plans/plan-effect.ts';
import { mostPlanFileCharacters, parsePlanFile, planProblemText } from '../../src/plans/plan-file.ts';

interface Io {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown };
}

const usage =
  'Usage: slackwater plan preview FILE [--floor PERCENT] [--longest-hold SECONDS]\n' +
  '  --floor         the floor to compare with (88)\n' +
  '  --longest-hold  stands in for holds without a ceiling of their own\n';

/** `argv` is what follows `plan`. Answers the exit status: 0 printed, 2 for a file or an option that is wrong. */
export async function runPlanPreview(argv: readonly string[], io: Io): Promise<number> {
  const options = readOptions(argv);
  if (typeof options === 'string') {
    io.stderr.write(`slackwater plan: ${options}\n${usage}`);
    return 2;
  }
  let text: string;
  try {
    const bytes = await readFile(options.file);
    if (bytes.length > mostPlanFileCharacters * 4) {
      io.stderr.write(`${options.file}: this is too large for a plan (${bytes.length} bytes).\n`);
      return 2;
    }
    text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch (error) {
    io.stderr.write(`${options.file}: ${readProblem(error)}\n`);
    return 2;
  }
  const parsed = parsePlanFile(text);
  if (!parsed.ok) {
    for (const problem of parsed.reason)
      io.stderr.write(`${planProblemText(basename(options.file), problem, sayInEnglish)}\n`);
    return 2;
  }
  io.stdout.write(planPreviewText(parsed.value, options.floorPercent, options.longestHoldMs));
  return 0;
}

function readProblem(error: unknown): string {
  const code = (error as NodeJS.ErrnoException).code;
  if (code === 'ENOENT') return 'there is no such file.';
  if (code === 'EISDIR') return 'this is a folder, not a file.';
  if (code === 'EACCES' || code === 'EPERM') return 'this file may not be read.';
  if (code === 'ERR_ENCODING_INVALID_ENCODED_DATA') return 'this is not a text file in UTF-8.';
  return `this file can't be read (${error instanceof Error ? error.message : String(error)}).`;
}

interface Options {
  readonly file: string;
  readonly floorPercent: number;
  readonly longestHoldMs: number | null;
}

function readOptions(argv: readonly string[]): Options | string {
  let parsed: { values: { floor?: string; 'longest-hold'?: string }; positionals: string[] };
  try {
    parsed = parseArgs({
      args: [...argv],
      allowPositionals: true,
      options: { floor: { type: 'string' }, 'longest-hold': { type: 'string' } },
    });
  } catch (error) {
    return error instanceof Error ? (error.message.split('. ')[0] ?? error.message) : String(error);
  }
  const [verb, file, ...more] = parsed.positionals;
  if (verb !== 'preview')
    return verb === undefined ? 'say what to do: preview.' : `there is no "${verb}"; there is preview.`;
  if (file === undefined) return 'name a plan file.';
  if (more.length > 0) return 'one plan file at a time.';
  const floorPercent =
    parsed.values.floor === undefined ? floorRangePercent.initial : Number(parsed.values.floor);
  if (!(floorPercent >= floorRangePercent.least && floorPercent <= floorRangePercent.most))
    return `--floor needs a percentage from ${floorRangePercent.least} to ${floorRangePercent.most}.`;
  const longest = parsed.values['longest-hold'];
  const longestSeconds = longest === undefined ? null : Number(longest);
  if (longestSeconds !== null && !(longestSeconds >= 5 && longestSeconds <= 900))
    return '--longest-hold needs seconds from 5 to 900.';
  return { file, floorPercent, longestHoldMs: longestSeconds === null ? null : longestSeconds * 1_000 };
}

/** The whole preview as text; the same facts as the page shows. */
function planPreviewText(plan: Plan, floorPercent: number, longestHoldMs: number | null): string {
  const description = describePlan(plan, longestHoldMs);
  const effect = previewPlanEffect(plan, populationOxygen, floorPercent, longestHoldMs);
  const lines: string[] = [description.title, sayInEnglish(description.shape), ''];
  if (description.rows.length > 0) {
    const holdOf = (stepIndex: number) =>
      typeof effect === 'string'
        ? undefined
        : effect.steps.find((step) => step.stepIndex === stepIndex)?.hold;
    const table = [
      [
        'Start',
        '',
        'Length',
        'Recovery',
        ...(typeof effect === 'string' ? [] : ['Lowest reading expected', 'Floor']),
      ],
      ...description.rows.map((row) => {
        const hold = holdOf(row.stepIndex);
        const lowest = hold?.lowestReadingPercent;
        return [
          row.startsAtMs === null ? '?' : clockText(row.startsAtMs),
          sayInEnglish(row.label),
          sayInEnglish(row.effort),
          row.recoveryMs === null ? '' : clockText(row.recoveryMs),
          ...(typeof effect === 'string'
            ? []
            : lowest === undefined || hold === undefined
              ? ['unknown', '']
              : [
                  `${lowest.middle.toFixed(0)} % (${lowest.low.toFixed(0)} to ${lowest.high.toFixed(0)})`,
                  { likely: 'likely crossed', possible: 'could be crossed', unlikely: 'kept' }[hold.crossing],
                ]),
        ];
      }),
    ];
    const widths = (table[0] ?? []).map((_, column) =>
      Math.max(...table.map((row) => (row[column] ?? '').length)),
    );
    for (const row of table)
      lines.push(
        row
          .map((cell, column) => cell.padEnd(widths[column] ?? 0))
          .join('  ')
          .trimEnd(),
      );
    lines.push('');
  }
  if (description.lengthMs !== null) lines.push(`Whole length up to ${clockText(description.lengthMs)}.`);
  lines.push(`Minimum recovery: ${sayInEnglish(description.minimumRecovery)}`);
  if (typeof effect === 'string') lines.push(sayInEnglish(sayNoEffect[effect]));
  else {
    lines.push(`Floor: ${floorPercent} %. The range beside each lowest reading holds four of five cases.`);
    lines.push(sayInEnglish(effect.preview.basis), sayInEnglish(effect.preview.caution));
  }
  const warnings = checkPlan(plan, typeof effect === 'string' ? undefined : effect.lowest);
  if (warnings.length > 0) {
    lines.push('', 'Before it starts:');
    for (const warning of warnings)
      lines.push(`- ${sayInEnglish(warning.said)}${warning.needsChoice ? ' (needs your choice)' : ''}`);
  }
  lines.push(
    '',
    'Every length is the most an effort may be: stop whenever you like. Not a medical device. Never alone, never in or near water without a trained buddy.',
  );
  return `${lines.join('\n')}\n`;
}
