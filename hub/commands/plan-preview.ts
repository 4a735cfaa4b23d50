// slackwater plan preview FILE: what a plan asks for and what it is expected to do, as text on standard output.

import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { parseArgs } from 'node:util';
import type { Plan } from '../../shared/plan.ts';
import { floorRangePercent } from '../../shared/schema-parts.ts';
import { planPreviewWords } from '../../shared/words/en-command-line.ts';
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

/** `argv` is what follows `plan`. Answers the exit status: 0 printed, 2 for a file or an option that is wrong. */
export async function runPlanPreview(argv: readonly string[], io: Io): Promise<number> {
  const options = readOptions(argv);
  if (typeof options === 'string') {
    io.stderr.write(`slackwater plan: ${options}\n${planPreviewWords.usage}`);
    return 2;
  }
  let text: string;
  try {
    const bytes = await readFile(options.file);
    if (bytes.length > mostPlanFileCharacters * 4) {
      io.stderr.write(`${options.file}: ${planPreviewWords.tooLarge(bytes.length)}\n`);
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
  if (code === 'ENOENT') return planPreviewWords.noSuchFile;
  if (code === 'EISDIR') return planPreviewWords.isFolder;
  if (code === 'EACCES' || code === 'EPERM') return planPreviewWords.notAllowed;
  if (code === 'ERR_ENCODING_INVALID_ENCODED_DATA') return planPreviewWords.notText;
  return planPreviewWords.unreadable(error instanceof Error ? error.message : String(error));
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
    return verb === undefined ? planPreviewWords.sayWhat : planPreviewWords.noVerb(verb);
  if (file === undefined) return planPreviewWords.nameFile;
  if (more.length > 0) return planPreviewWords.oneFile;
  const floorPercent =
    parsed.values.floor === undefined ? floorRangePercent.initial : Number(parsed.values.floor);
  if (!(floorPercent >= floorRangePercent.least && floorPercent <= floorRangePercent.most))
    return planPreviewWords.badFloor(floorRangePercent.least, floorRangePercent.most);
  const longest = parsed.values['longest-hold'];
  const longestSeconds = longest === undefined ? null : Number(longest);
  if (longestSeconds !== null && !(longestSeconds >= 5 && longestSeconds <= 900))
    return planPreviewWords.badLongest;
  return { file, floorPercent, longestHoldMs: longestSeconds === null ? null : longestSeconds * 1_000 };
}

/** The whole preview as text; the same facts as the page shows. */
export function planPreviewText(plan: Plan, floorPercent: number, longestHoldMs: number | null): string {
  const description = describePlan(plan, longestHoldMs);
  const effect = previewPlanEffect(plan, populationOxygen, floorPercent, longestHoldMs);
  const { columns } = planPreviewWords;
  const lines: string[] = [description.title, sayInEnglish(description.shape), ''];
  if (description.rows.length > 0) {
    const holdOf = (stepIndex: number) =>
      typeof effect === 'string'
        ? undefined
        : effect.steps.find((step) => step.stepIndex === stepIndex)?.hold;
    const table = [
      [
        columns.start,
        '',
        columns.length,
        columns.recovery,
        ...(typeof effect === 'string' ? [] : [planPreviewWords.lowestExpected, columns.floor]),
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
              ? [planPreviewWords.unknown, '']
              : [
                  planPreviewWords.lowest(
                    lowest.middle.toFixed(0),
                    lowest.low.toFixed(0),
                    lowest.high.toFixed(0),
                  ),
                  planPreviewWords.crossing[hold.crossing],
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
  if (description.lengthMs !== null)
    lines.push(planPreviewWords.wholeLength(clockText(description.lengthMs)));
  lines.push(planPreviewWords.minimumRecovery(sayInEnglish(description.minimumRecovery)));
  if (typeof effect === 'string') lines.push(sayInEnglish(sayNoEffect[effect]));
  else {
    lines.push(planPreviewWords.floor(floorPercent));
    lines.push(sayInEnglish(effect.preview.basis), sayInEnglish(effect.preview.caution));
  }
  const warnings = checkPlan(plan, typeof effect === 'string' ? undefined : effect.lowest);
  if (warnings.length > 0) {
    lines.push('', planPreviewWords.beforeStart);
    for (const warning of warnings)
      lines.push(`- ${sayInEnglish(warning.said)}${warning.needsChoice ? planPreviewWords.needsChoice : ''}`);
  }
  lines.push('', planPreviewWords.cautions);
  return `${lines.join('\n')}\n`;
}
