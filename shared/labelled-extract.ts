// A labelled extract: one person's marked recording, given by their own choice, by which the accuracy bench can be refuted.
// GET /api/sessions/:sessionId/extract?athleteId=... answers one; src/formats/labelled-extract/README.md describes it.

import * as z from 'zod/mini';
import { channelSchema } from './schema-parts.ts';

const timeMsSchema = z.number().check(
  z.refine((value) => Number.isFinite(value)),
  z.gte(0),
);

/** How much air was in the lungs when the hold began; only the person knows. */
export const lungsStatedSchema = z.enum(['full', 'half', 'emptied']);
export type LungsStated = z.infer<typeof lungsStatedSchema>;

/** Where the oximeter sits: it decides how late it shows a fall. */
export const oximeterSiteSchema = z.enum(['finger', 'ear', 'forehead', 'wrist', 'other']);
export type OximeterSite = z.infer<typeof oximeterSiteSchema>;

const isRising = (times: readonly number[]): boolean =>
  times.every((time, index) => index === 0 || time >= times[index - 1]!);

const seriesSchema = z
  .strictObject({
    channel: channelSchema,
    /** Counted from 1 within the recording; says only which series come from one sensor. */
    sensor: z.number().check(z.int(), z.gte(1), z.lte(100)),
    /** From the recording's start, not falling. */
    timesMs: z.array(timeMsSchema),
    /** In the unit the channel names, one for each time. */
    values: z.array(z.number().check(z.refine((value) => Number.isFinite(value)))),
  })
  .check(
    z.refine(({ timesMs, values }) => timesMs.length === values.length, 'a value for every time'),
    z.refine(({ timesMs }) => isRising(timesMs), 'times must not fall'),
  );

const labelledHoldSchema = z
  .strictObject({
    startMs: timeMsSchema,
    endMs: timeMsSchema,
    lungs: z.nullable(lungsStatedSchema),
  })
  .check(z.refine(({ startMs, endMs }) => endMs > startMs, 'a hold must end after it begins'));

/** Strict: a file with anything more in it, such as a name, is refused. */
export const labelledExtractSchema = z
  .strictObject({
    format: z.literal('slackwater labelled extract'),
    version: z.literal(1),
    /** True where a simulator or a replay made the recording: then it refutes nothing. */
    simulated: z.boolean(),
    durationMs: timeMsSchema,
    /** The person says that no hold is without a mark: then a hold found elsewhere is false. */
    everyHoldIsMarked: z.boolean(),
    oximeter: z.nullable(oximeterSiteSchema),
    series: z.array(seriesSchema).check(z.maxLength(100)),
    /** Marked or corrected by a person at both ends, in time order. What was only detected is no label. */
    holds: z.array(labelledHoldSchema),
    /** Marked involuntary breathing movements. */
    contractionsMs: z.array(timeMsSchema),
  })
  .check(
    z.refine(
      ({ holds }) => holds.every((hold, i) => i === 0 || hold.startMs >= holds[i - 1]!.endMs),
      'holds must follow one another',
    ),
  );
export type LabelledExtract = z.infer<typeof labelledExtractSchema>;
