// Writes the mean of two trainings' weights, network by network: of two that began with the same weights it finds more than either.
// Run: npx tsx tests/training/average-weights.ts OUT_FOLDER FOLDER OTHER_FOLDER

import { mkdirSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';

type Table = readonly (readonly [scale: number, integers: string])[];

const [outFolder, ...folders] = process.argv.slice(2);
if (outFolder === undefined || folders.length !== 2)
  throw new Error('average-weights.ts OUT_FOLDER FOLDER OTHER_FOLDER');
mkdirSync(outFolder, { recursive: true });

const numbersOf = ([scale, text]: Table[number]): number[] => {
  const bytes = Buffer.from(text, 'base64');
  return Array.from({ length: bytes.length / 2 }, (_, i) => (bytes.readInt16LE(2 * i) * scale) / 32_767);
};

for (const kind of ['smoothing', 'live'])
  for (const part of ['', '-fold-1', '-fold-2']) {
    const file = `${kind}${part}.ts`;
    const name = `${kind}Weights`;
    const tables = await Promise.all(
      folders.map(async (folder) => {
        const module = (await import(pathToFileURL(resolve(folder, file)).href)) as Record<string, Table>;
        return module[name]!;
      }),
    );
    const [one, other] = tables as [Table, Table];
    const rows = one.map((row, at) => {
      const others = numbersOf(other[at]!);
      const means = numbersOf(row).map((value, i) => 0.5 * value + 0.5 * others[i]!);
      const scale = means.reduce((most, value) => Math.max(most, Math.abs(value)), 0) || 1;
      const bytes = Buffer.alloc(2 * means.length);
      means.forEach((value, i) => {
        bytes.writeInt16LE(Math.round((value / scale) * 32_767), 2 * i);
      });
      return `  [\n    ${scale},\n    '${bytes.toString('base64')}',\n  ],`;
    });
    writeFileSync(
      join(outFolder, file),
      `// Weights of a hold network, made by tests/training/train.py and average-weights.ts. Not written by hand.\n\n/** Layer by layer, weights then biases: scale and 16-bit integers, little-endian, base64. */\nexport const ${name}: readonly (readonly [scale: number, integers: string])[] = [\n${rows.join('\n')}\n];\n`,
    );
  }
