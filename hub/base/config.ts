// All settings of the hub in one schema: defaults < file < environment < flags. Everything else receives a frozen Config.

import { readFileSync } from 'node:fs';
import { homedir, platform } from 'node:os';
import { join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import * as z from 'zod';
import { configWords, optionWords, settingFaults } from '../../shared/words/en-command-line.ts';
import { HubError, told } from './hub-error.ts';

const trueOrFalse = z
  .union([z.boolean(), z.enum(['true', 'false', '1', '0'])])
  .transform((v) => v === true || v === 'true' || v === '1');
const wholeNumber = (least: number, most: number) =>
  z.coerce
    .number({ error: settingFaults.number })
    .int({ error: settingFaults.wholeNumber })
    .min(least, { error: settingFaults.range(least, most) })
    .max(most, { error: settingFaults.range(least, most) });

/** "30 https://example.invalid/call, 90 /usr/local/bin/ring": seconds from 5 to 999 and an address or a program each. */
const escalationList =
  /^\s*(?:[5-9]|[1-9]\d{1,2})\s+[^,\s][^,]*(?:,\s*(?:[5-9]|[1-9]\d{1,2})\s+[^,\s][^,]*)*$/;

/** As in shared/school/subjects.ts: a token of a subject. */
const schoolNameSetting = z.string().regex(/^[a-z0-9][a-z0-9-]{0,39}$/, { error: settingFaults.schoolName });

const configSchema = z.strictObject({
  port: wholeNumber(0, 65_535).default(7410),
  host: z.string().min(1).default('127.0.0.1'),
  lan: trueOrFalse.default(false),
  'lan-port': wholeNumber(0, 65_535).default(7443),
  'lan-host': z.string().min(1).default('::'),
  'lan-authority': trueOrFalse.default(false),
  certificate: z.string().min(1).optional(),
  key: z.string().min(1).optional(),
  data: z.string().min(1).optional(),
  open: trueOrFalse.default(true),
  athletes: wholeNumber(1, 16).default(1),
  seed: wholeNumber(0, 2_147_483_647).default(7),
  speed: z.coerce
    .number({ error: settingFaults.number })
    .min(0.1, { error: settingFaults.range(0.1, 1_000) })
    .max(1_000, { error: settingFaults.range(0.1, 1_000) })
    .default(1),
  radio: z.enum(['noble', 'stoprocent', 'bluez'], { error: settingFaults.radio }).default('noble'),
  adapter: z.string().min(1).default('default'),
  log: z.enum(['silent', 'error', 'warn', 'info', 'debug'], { error: settingFaults.log }).default('warn'),
  'log-file': z.string().min(1).optional(),
  'log-size': wholeNumber(1, 1_000).default(5),
  'log-keep': wholeNumber(1, 100).default(4),
  config: z.string().min(1).optional(),
  watchdog: trueOrFalse.default(true),
  supervised: trueOrFalse.default(false),
  'alarm-sound': trueOrFalse.default(true),
  'alarm-command': z.string().min(1).optional(),
  'alarm-webhook': z.url({ error: settingFaults.webAddress }).optional(),
  'alarm-webhook-secret': z.string().min(16, { error: settingFaults.secret }).optional(),
  'alarm-beacon': wholeNumber(5, 3_600).default(60),
  'alarm-names': trueOrFalse.default(false),
  'alarm-escalation': z.string().regex(escalationList, { error: settingFaults.escalation }).optional(),
  mqtt: z.url({ protocol: /^mqtts?$/, error: settingFaults.broker }).optional(),
  'mqtt-topic': z
    .string()
    .regex(/^[^\s+#/]+(\/[^\s+#/]+)*$/, { error: settingFaults.topic })
    .default('slackwater'),
  'mqtt-discovery': z
    .string()
    .regex(/^[^\s+#/]+$/, { error: settingFaults.topic })
    .optional(),
  school: z.string().min(1).optional(),
  'school-name': schoolNameSetting.default('school'),
  'school-hub': schoolNameSetting.optional(),
  'school-room': z.string().min(1).max(60).optional(),
  'school-user': z.string().min(1).optional(),
  'school-password': z.string().min(1).optional(),
  'school-authority': z.string().min(1).optional(),
  'school-buffer': wholeNumber(1, 100_000).default(4),
  archive: z.url({ protocol: /^postgres(ql)?$/, error: settingFaults.archive }).optional(),
  'backup-folder': z.string().min(1).optional(),
  'backup-every': wholeNumber(1, 720).default(24),
  'backup-keep': wholeNumber(1, 1_000).default(14),
  'backup-passphrase': z.string().min(12, { error: settingFaults.passphrase }).optional(),
});

/** The hub's settings, checked. `data` is absolute. */
export type Config = Readonly<Omit<z.infer<typeof configSchema>, 'config' | 'data'> & { data: string }>;

type OptionName = keyof z.infer<typeof configSchema>;
const optionNames = Object.keys(configSchema.shape) as OptionName[];

/** Every option with its meaning and default, one a line, for `--help`. */
export function describeOptions(): string {
  return optionNames
    .map((name) => {
      const schema = configSchema.shape[name];
      const fallback = schema instanceof z.ZodDefault ? ` (${String(schema.def.defaultValue)})` : '';
      return `  --${name.padEnd(14)} ${optionWords[name]}${fallback}`;
    })
    .join('\n');
}

/** The per-user data folder the platform expects. */
export function defaultDataDirectory(
  environment: NodeJS.ProcessEnv,
  home = homedir(),
  os = platform(),
): string {
  if (os === 'darwin') return join(home, 'Library', 'Application Support', 'Slackwater');
  if (os === 'win32')
    return join(environment['LOCALAPPDATA'] ?? join(home, 'AppData', 'Local'), 'Slackwater');
  return join(environment['XDG_DATA_HOME'] ?? join(home, '.local', 'share'), 'slackwater');
}

/**
 * Reads settings from flags, environment (`SLACKWATER_PORT`, …) and an optional JSON file.
 * Throws HubError with one sentence for anything unknown or out of range.
 */
export function readConfig(
  argv: readonly string[],
  environment: NodeJS.ProcessEnv,
  modeDefaults: Partial<z.input<typeof configSchema>> = {},
): { config: Config; positionals: string[] } {
  const { values: flags, positionals } = parseFlags(argv);
  const fromEnvironment: Record<string, string> = {};
  for (const name of optionNames) {
    const value = environment[`SLACKWATER_${name.replaceAll('-', '_').toUpperCase()}`];
    if (value !== undefined && value !== '') fromEnvironment[name] = value;
  }
  const filePath = flags['config'] ?? fromEnvironment['config'];
  const fromFile = filePath === undefined ? {} : readSettingsFile(String(filePath));
  const checked = configSchema.safeParse({ ...modeDefaults, ...fromFile, ...fromEnvironment, ...flags });
  if (!checked.success) {
    const issue = checked.error.issues[0];
    const name = String(issue?.path[0] ?? '');
    if (issue?.code === 'unrecognized_keys') {
      throw new HubError('config.badFile', told(configWords.unknownName(String(issue.keys[0]), optionNames)));
    }
    const origin =
      name in flags
        ? `--${name}`
        : name in fromEnvironment
          ? `SLACKWATER_${name.toUpperCase()}`
          : configWords.inFile(name);
    throw new HubError(
      'config.badValue',
      told(configWords.badValue(origin, issue?.message ?? settingFaults.invalid)),
    );
  }
  const { config: _file, data, ...rest } = checked.data;
  return {
    config: Object.freeze({ ...rest, data: resolve(data ?? defaultDataDirectory(environment)) }),
    positionals,
  };
}

const booleans = new Set<string>([
  'open',
  'lan',
  'lan-authority',
  'alarm-sound',
  'alarm-names',
  'watchdog',
  'supervised',
]);

/** Writes "--open false" and "--open=false" as "--no-open": what a settings file says, a person may type. */
function withoutTruthValues(argv: readonly string[]): string[] {
  const words: string[] = [];
  for (let index = 0; index < argv.length; index += 1) {
    const word = argv[index]!;
    const [flag = '', attached] = word.split('=', 2);
    const name = flag.startsWith('--') ? flag.slice(2) : '';
    const value = attached ?? argv[index + 1];
    if (!booleans.has(name) || !trueOrFalse.safeParse(value).success) {
      words.push(word);
      continue;
    }
    words.push(trueOrFalse.parse(value) ? flag : `--no-${name}`);
    if (attached === undefined) index += 1;
  }
  return words;
}

function parseFlags(argv: readonly string[]): {
  values: Record<string, string | boolean>;
  positionals: string[];
} {
  try {
    const { values, positionals } = parseArgs({
      args: withoutTruthValues(argv),
      allowPositionals: true,
      allowNegative: true,
      options: Object.fromEntries(
        optionNames.map((name) => [
          name,
          { type: booleans.has(name) ? ('boolean' as const) : ('string' as const) },
        ]),
      ),
    });
    return { values: values as Record<string, string | boolean>, positionals };
  } catch (error) {
    const text = error instanceof Error ? error.message : String(error);
    const sentence = text.split('. ')[0] ?? text;
    throw new HubError('config.badFlag', told(configWords.badFlag(sentence.replace(/\.$/, ''))), error);
  }
}

function readSettingsFile(path: string): Record<string, unknown> {
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    throw new HubError('config.badFile', told(configWords.unreadable(path)), error);
  }
  try {
    const value: unknown = JSON.parse(text);
    if (typeof value !== 'object' || value === null || Array.isArray(value)) throw new TypeError(path);
    return value as Record<string, unknown>;
  } catch (error) {
    throw new HubError('config.badFile', told(configWords.notObject(path)), error);
  }
}
