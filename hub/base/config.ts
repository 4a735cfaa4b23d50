// All settings of the hub in one schema: defaults < file < environment < flags. Everything else receives a frozen Config.

import { readFileSync } from 'node:fs';
import { homedir, platform } from 'node:os';
import { join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import * as z from 'zod';
import { HubError } from './hub-error.ts';

const trueOrFalse = z
  .union([z.boolean(), z.enum(['true', 'false', '1', '0'])])
  .transform((v) => v === true || v === 'true' || v === '1');
const wholeNumber = (least: number, most: number) =>
  z.coerce
    .number({ error: 'needs a number' })
    .int({ error: 'needs a whole number' })
    .min(least, { error: `needs a number from ${least} to ${most}` })
    .max(most, { error: `needs a number from ${least} to ${most}` });

const configSchema = z.strictObject({
  port: wholeNumber(0, 65_535).default(7410).describe('port of the page; 0 takes a free one'),
  host: z
    .string()
    .min(1)
    .default('127.0.0.1')
    .describe("the page's address on this machine; loopback only, other devices join by --lan"),
  lan: trueOrFalse
    .default(false)
    .describe('let other devices on the network join, encrypted and by codes that a coach gives'),
  'lan-port': wholeNumber(0, 65_535).default(7443).describe('port for other devices; 0 takes a free one'),
  'lan-host': z.string().min(1).default('::').describe('address to listen on for other devices; :: is all'),
  data: z.string().min(1).optional().describe('folder of the recordings; private to you'),
  open: trueOrFalse.default(true).describe('open the page in a browser at start'),
  athletes: wholeNumber(1, 16).default(1).describe('simulated athletes in the demo'),
  seed: wholeNumber(0, 2_147_483_647).default(7).describe('seed of the simulated athletes'),
  speed: z.coerce
    .number({ error: 'needs a number' })
    .min(0.1, { error: 'needs a number from 0.1 to 1000' })
    .max(1_000, { error: 'needs a number from 0.1 to 1000' })
    .default(1)
    .describe('times real time, for demo and replay'),
  radio: z
    .enum(['noble', 'stoprocent'], { error: 'is noble or stoprocent' })
    .default('noble')
    .describe('Bluetooth library'),
  adapter: z
    .string()
    .min(1)
    .default('default')
    .describe('Bluetooth adapters, with commas: default, hci1, serial:PATH@BAUD, tcp:HOST:PORT, unix:PATH'),
  log: z
    .enum(['silent', 'error', 'warn', 'info', 'debug'], { error: 'is silent, error, warn, info or debug' })
    .default('warn')
    .describe('how much the hub writes to standard error'),
  config: z.string().min(1).optional().describe('settings file (JSON with these same names)'),
  'alarm-sound': trueOrFalse.default(true).describe("sound alarms on the hub's own loudspeaker too"),
  'alarm-command': z
    .string()
    .min(1)
    .optional()
    .describe(
      'a program to run at each change of the alarm; the priority is its last word (high, medium, low, none)',
    ),
  'alarm-webhook': z
    .url({ error: 'needs an address beginning http:// or https://' })
    .optional()
    .describe('an address to POST each change of the alarm to, as {"alarm":"high"}, and a beacon'),
  'alarm-webhook-secret': z
    .string()
    .min(16, { error: 'needs at least 16 characters' })
    .optional()
    .describe('signs each POST; better in the settings file or SLACKWATER_ALARM_WEBHOOK_SECRET than here'),
  'alarm-beacon': wholeNumber(5, 3_600)
    .default(60)
    .describe('seconds between two beacons of the webhook, by which its receiver notices silence'),
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
      return `  --${name.padEnd(14)} ${schema.description ?? ''}${fallback}`;
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
      throw new HubError(
        'config.badFile',
        `The settings file has an unknown name "${issue.keys[0]}". Known names: ${optionNames.join(', ')}.`,
      );
    }
    const origin =
      name in flags
        ? `--${name}`
        : name in fromEnvironment
          ? `SLACKWATER_${name.toUpperCase()}`
          : `"${name}" in the settings file`;
    throw new HubError('config.badValue', `${origin} ${issue?.message ?? 'is not valid'}.`);
  }
  const { config: _file, data, ...rest } = checked.data;
  return {
    config: Object.freeze({ ...rest, data: resolve(data ?? defaultDataDirectory(environment)) }),
    positionals,
  };
}

function parseFlags(argv: readonly string[]): {
  values: Record<string, string | boolean>;
  positionals: string[];
} {
  const booleans = new Set<string>(['open', 'lan', 'alarm-sound']);
  try {
    const { values, positionals } = parseArgs({
      args: [...argv],
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
    throw new HubError(
      'config.badFlag',
      `${sentence.replace(/\.$/, '')}. "slackwater --help" lists the options.`,
      error,
    );
  }
}

function readSettingsFile(path: string): Record<string, unknown> {
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    throw new HubError(
      'config.badFile',
      `The settings file ${path} can't be read. Check the path and its permissions.`,
      error,
    );
  }
  try {
    const value: unknown = JSON.parse(text);
    if (typeof value !== 'object' || value === null || Array.isArray(value)) throw new Error('not an object');
    return value as Record<string, unknown>;
  } catch (error) {
    throw new HubError(
      'config.badFile',
      `The settings file ${path} is not a JSON object. Correct it or leave out --config.`,
      error,
    );
  }
}
