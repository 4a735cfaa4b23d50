// The page's part of the walk-through (hub/packaging/walk-through.sh): a real browser goes from the link of an installed hub to a
// first recorded session, with no terminal, takes a picture a step and writes what each took. SIMULATED sensors stand in.

import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { de } from '../../web/i18n/de.ts';
import { en } from '../../web/i18n/en.ts';
import { launchChromium, widths } from '../support/chromium-page.ts';

const [link, folder, way, installMs, startMs] = process.argv.slice(2);
if (link === undefined || folder === undefined || startMs === undefined)
  throw new Error('walk-through.ts LINK FOLDER WAY INSTALL_MS START_MS');

/** The whole of it, for a person. */
const goalS = 600;
/**
 * What a person reads at, words a minute: our choice, below the 238 of adults reading English silently (Brysbaert 2019,
 * J Mem Lang 109:104047, from memory). The browser itself needs no time to read.
 */
const wordsPerMinute = 180;
/** To find and press a control. Common practice, no source. */
const secondsAPress = 3;

interface Step {
  readonly name: string;
  readonly machineS: number;
  readonly wordsRead: number;
  readonly presses: number;
  /** What the machine took, or reading and pressing if that is longer: they go on at once only while something runs. */
  readonly personS: number;
}

const language = process.env['WALK_LANGUAGE'] === 'de' ? 'de' : 'en';
const words = language === 'de' ? de : en;
const steps: Step[] = [
  {
    name: 'install',
    machineS: Number(installMs) / 1_000,
    wordsRead: 0,
    presses: 0,
    personS: Number(installMs) / 1_000,
  },
  {
    name: 'start',
    machineS: Number(startMs) / 1_000,
    wordsRead: 0,
    presses: 0,
    personS: Number(startMs) / 1_000,
  },
];
const browser = await launchChromium();
const context = await browser.newContext({
  viewport: widths.desktop,
  locale: language === 'de' ? 'de-DE' : 'en-GB',
  colorScheme: 'light',
});
const page = await context.newPage();
page.setDefaultTimeout(180_000);
const faults: string[] = [];
page.on('pageerror', (error) => faults.push(error.message));

const readSoFar = new Set<string>();
/** Words on the page that were not there to be read before. */
async function newWords(): Promise<number> {
  const text = await page.locator('body').innerText();
  let count = 0;
  for (const line of text.split('\n')) {
    if (readSoFar.has(line)) continue;
    readSoFar.add(line);
    // Readings and clocks are looked at, not read.
    count += line.split(/\s+/).filter((word) => /\p{L}{2}/u.test(word)).length;
  }
  return count;
}

/** `run` answers how often it pressed something. `watched`: the time is the session's own, in which a person lies. */
async function step(name: string, run: () => Promise<number>, watched = false): Promise<void> {
  const startedMs = performance.now();
  const presses = await run();
  const machineS = (performance.now() - startedMs) / 1_000;
  const wordsRead = await newWords();
  const own = (wordsRead / wordsPerMinute) * 60 + presses * secondsAPress;
  steps.push({
    name,
    machineS,
    wordsRead,
    presses,
    personS: watched ? Math.max(machineS, own) : machineS + own,
  });
  await page.screenshot({ path: join(folder!, `${String(steps.length - 2).padStart(2, '0')}-${name}.png`) });
}
const press = async (name: string): Promise<number> => {
  await page.getByRole('button', { name, exact: true }).first().click();
  return 1;
};

await step('open-the-link', async () => {
  await page.goto(link);
  await page.getByRole('heading', { name: words.setup.title }).waitFor();
  await page.locator('.sensors li').first().waitFor();
  return 1;
});
await step('read-the-first-chapter', async () => {
  await page.getByRole('link', { name: words.help.toFirstSession }).click();
  await page.locator('.help-section').nth(2).waitFor();
  return 1;
});
await step('back-to-the-session', async () => {
  await page.goBack();
  await page.getByRole('heading', { name: words.setup.title }).waitFor();
  return 1;
});
await step('hear-the-alarm', async () => {
  await press(words.setup.playAlarm);
  return (await press(words.setup.heardIt)) + 1;
});
await step('read-the-cautions', async () => {
  await page.getByText(words.setup.cautionsRead).click();
  return 1;
});
await step('start', async () => {
  const pressed = await press(words.setup.start);
  await page.waitForURL('**/live/**');
  await page.locator('.reading--spo2.is-fresh').waitFor();
  return pressed;
});
await step(
  'a-hold-is-found',
  async () => {
    await page.locator('.hold-clock.is-running').waitFor();
    return 0;
  },
  true,
);
await step(
  'it-is-over',
  async () => {
    await page.locator('.live-phase', { hasText: words.phase.recovering }).waitFor();
    return 0;
  },
  true,
);
await step('end-the-session', async () => {
  await press(words.live.options);
  await press(words.live.endSession);
  await press(words.live.endSessionConfirm);
  await page.getByText(words.live.sessionEnded).waitFor();
  return 3;
});
await step('open-the-recording', async () => {
  await page.getByRole('link', { name: words.live.openRecording }).click();
  await page.locator('.hold-card').first().waitFor();
  await page.getByText(words.recorded.allMeasures).waitFor();
  return 1;
});
const holds = await page.locator('.hold-card').count();
await browser.close();

const rounded = (value: number): number => Math.round(value * 10) / 10;
const total = steps.reduce((sum, { personS }) => sum + personS, 0);
const report = {
  simulated: true,
  way,
  language,
  goalS,
  personS: Math.round(total),
  machineS: Math.round(steps.reduce((sum, { machineS }) => sum + machineS, 0)),
  steps: steps.map((each) => ({ ...each, machineS: rounded(each.machineS), personS: rounded(each.personS) })),
};
writeFileSync(join(folder, 'walk-through.json'), `${JSON.stringify(report, null, 2)}\n`);
for (const { name, machineS, wordsRead, presses, personS } of report.steps)
  console.log(
    `${name.padEnd(24)} ${machineS.toFixed(1).padStart(7)} s   ${String(wordsRead).padStart(4)} words  ${presses} presses  with reading ${personS.toFixed(0)} s`,
  );
console.log(
  `SIMULATED sensors, no real hardware. The computer took ${report.machineS} s; a person who reads every word about ${report.personS} s (goal ${goalS}).`,
);
if (faults.length > 0) console.log(faults.join('\n'));
process.exitCode = holds < 1 || faults.length > 0 || total > goalS ? 1 : 0;
