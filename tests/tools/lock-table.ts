// The packages of a lock file that run with the hub, as a table: name, version, licence.

import * as z from 'zod';

/** Below it, in inventory.md, nothing is written by hand. */
export const inventoryMark = '## Every package that runs with the hub';

const lockSchema = z.object({
  packages: z.record(
    z.string(),
    z.object({
      version: z.string().optional(),
      license: z.string().optional(),
      dev: z.boolean().optional(),
      devOptional: z.boolean().optional(),
      hasInstallScript: z.boolean().optional(),
    }),
  ),
});

/** Set as the formatter does. Throws for a text that is no lock file. */
export function tableOfLock(lockText: string): string {
  const { packages } = lockSchema.parse(JSON.parse(lockText));
  const rows = Object.entries(packages)
    .filter(([path, { dev, devOptional }]) => path !== '' && dev !== true && devOptional !== true)
    .map(([path, { version = '', license = 'not said', hasInstallScript = false }]) => [
      path.slice(path.lastIndexOf('node_modules/') + 'node_modules/'.length),
      version,
      license,
      hasInstallScript ? 'yes' : '',
    ]);
  const unique = [...new Map(rows.map((row) => [row.join(' '), row])).values()].sort((one, other) =>
    one.join(' ') < other.join(' ') ? -1 : 1,
  );
  const all = [['package', 'version', 'licence', 'runs code when installed'], ...unique];
  const widths = all[0]!.map((_cell, column) => Math.max(...all.map((row) => row[column]!.length)));
  const line = (row: readonly string[]) =>
    `| ${row.map((cell, column) => cell.padEnd(widths[column]!)).join(' | ')} |`;
  const [head, ...rest] = all.map(line);
  return `${[head, `| ${widths.map((width) => '-'.repeat(width)).join(' | ')} |`, ...rest].join('\n')}\n`;
}
