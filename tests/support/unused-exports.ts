// Finds exports that nobody imports, by reading the sources as text: what each file exports by name, and what each import
// takes by name from which file.

import { dirname, join, normalize } from 'node:path';

export interface SourceText {
  /** From the repository's root. */
  readonly file: string;
  readonly text: string;
}

const exportPattern =
  /^export\s+(?:declare\s+)?(?:async\s+)?(?:abstract\s+)?(const|let|function\*?|class|interface|type|enum)\s+(\w+)/gm;
const importPattern = /^(?:import|export)\s+(?:type\s+)?([^'";]*?)\s*from\s*'(\.[^']+)'/gm;
const dynamicPattern = /\bimport\(\s*'(\.[^']+)'\s*\)/g;

/** Names that an import or a re-export takes; `*` for all of a file. */
function namesTaken(clause: string): string[] {
  if (clause.includes('*')) return ['*'];
  const braces = /\{([^}]*)\}/.exec(clause)?.[1] ?? '';
  return braces
    .split(',')
    .map(
      (each) =>
        each
          .trim()
          .replace(/^type\s+/, '')
          .split(/\s+as\s+/)[0]!,
    )
    .filter((name) => name !== '');
}

/** Types that shape what their own file exports are named for whoever reads it. */
function isNamedByItsFile(keyword: string, name: string, text: string): boolean {
  if (keyword !== 'type' && keyword !== 'interface') return false;
  const code = text.replaceAll(/\/\*[\s\S]*?\*\/|\/\/.*/g, '');
  return [...code.matchAll(new RegExp(`\\b${name}\\b`, 'g'))].length > 1;
}

/**
 * "file name" of each export of `exporting` that nothing in `all` imports from another file. A type need not be imported
 * where its own file goes on to use it.
 */
export function unusedExports(exporting: readonly SourceText[], all: readonly SourceText[]): string[] {
  const taken = new Set<string>();
  for (const { file, text } of all) {
    const target = (path: string) => normalize(join(dirname(file), path));
    for (const [, clause, path] of text.matchAll(importPattern))
      for (const name of namesTaken(clause!)) taken.add(`${target(path!)} ${name}`);
    // What is taken of a file that is loaded later is said somewhere in the file that loads it.
    for (const [, path] of text.matchAll(dynamicPattern))
      for (const [, name] of text.matchAll(/\b(\w+)\b/g)) taken.add(`${target(path!)} ${name}`);
  }
  return exporting.flatMap(({ file, text }) =>
    [...text.matchAll(exportPattern)]
      .filter(([, keyword, name]) => !isNamedByItsFile(keyword!, name!, text))
      .map(([, , name]) => `${file} ${name}`)
      .filter((each) => !taken.has(each) && !taken.has(`${file} *`)),
  );
}
