// slackwater plan preview: the facts of a plan as text, and one clear line for everything that is wrong with a file.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { runPlanPreview } from '../../hub/commands/plan-preview.ts';
import {
  makeIntervalSeries,
  makeMaximalAttempts,
  makeTwelveMinuteSwim,
} from '../../src/plans/generate-plan.ts';
import { writePlanFile } from '../../src/plans/plan-file.ts';
import { oxygenTableOf, plansOfEveryKind } from '../support/usual-plans.ts';

const folder = mkdtempSync(join(tmpdir(), 'plan-preview-'));
afterAll(() => rmSync(folder, { recursive: true }));

async function preview(text: string | Uint8Array, ...more: string[]) {
  const file = join(folder, 'plan.json');
  writeFileSync(file, text);
  return runs('preview', file, ...more);
}
async function runs(...argv: string[]) {
  let out = '';
  let err = '';
  const status = await runPlanPreview(argv, {
    stdout: { write: (text: string) => (out += text) },
    stderr: { write: (text: string) => (err += text) },
  });
  return { status, out, err };
}

describe('plan preview', () => {
  test('an interval series: starts, recoveries, expected lowest readings, minimum recovery', async () => {
    const { status, out, err } = await preview(writePlanFile(makeIntervalSeries()));
    expect(err).toBe('');
    expect(status).toBe(0);
    expect(out).toMatch(/^2:00 {3}Hold 1 {2}you decide {2}1:00 {6}\d\d %/m);
    expect(out).toMatch(/^30:00 {2}Hold 8 {2}you decide/m);
    expect(out).toMatch(/Whole length up to 33:00\./);
    expect(out).toMatch(/A calculation, not a measurement/);
    expect(out).toMatch(/Not a medical device/);
  });

  test('a long oxygen table against a high floor asks for a choice', async () => {
    const { out } = await preview(writePlanFile(oxygenTableOf(420)), '--floor', '92');
    expect(out).toMatch(/likely crossed/);
    expect(out).toMatch(/needs your choice/);
  });

  test('a maximal hold is unknown until a longest hold is given', async () => {
    expect((await preview(writePlanFile(makeMaximalAttempts(180)))).out).toMatch(
      /Maximal hold 1 {2}you decide +unknown/,
    );
    expect((await preview(writePlanFile(makeMaximalAttempts(180)), '--longest-hold', '180')).out).toMatch(
      /Maximal hold 1 {2}you decide +\d\d %/,
    );
  });

  test('swimming has no preview, and says so', async () => {
    expect((await preview(writePlanFile(makeTwelveMinuteSwim(25)))).out).toMatch(/no preview of saturation/);
  });

  test('every starter plan prints', async () => {
    for (const plan of plansOfEveryKind())
      expect((await preview(writePlanFile(plan))).status, plan.title).toBe(0);
  });

  test.each([
    [
      'a wrong field',
      writePlanFile(makeIntervalSeries()).replace('240', '24'),
      'plan.json:9:19 everySeconds: must be at least 60\n',
    ],
    ['not JSON', 'starts: 8', 'plan.json:1:1 This is not JSON: invalid symbol.\n'],
    ['empty', '', 'plan.json:1:1 The file is empty.\n'],
  ])('%s is named with line, column, field and reason', async (_what, text, expected) => {
    expect(await preview(text)).toEqual({ status: 2, out: '', err: expected });
  });

  test('bytes that are no text, a missing file, a folder, wrong options', async () => {
    expect((await preview(Uint8Array.of(0xff, 0xfe, 0x00))).err).toMatch(/not a text file in UTF-8/);
    expect(await runs('preview', join(folder, 'none.json'))).toMatchObject({ status: 2 });
    expect((await runs('preview', join(folder, 'none.json'))).err).toMatch(/there is no such file/);
    expect((await runs('preview', folder)).err).toMatch(/a folder/);
    expect((await runs()).err).toMatch(/Usage/);
    expect((await runs('draw', 'x')).err).toMatch(/there is no "draw"/);
    expect((await preview(writePlanFile(makeIntervalSeries()), '--floor', '50')).err).toMatch(
      /from 70 to 95/,
    );
    expect((await preview(writePlanFile(makeIntervalSeries()), '--wings')).err).toMatch(/wings/);
  });
});
