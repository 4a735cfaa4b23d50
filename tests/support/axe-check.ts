// Runs axe-core in the page: WCAG 2.0 to 2.2, levels A and AA, and axe's own best practices.

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Page } from 'playwright-core';

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

interface Found {
  readonly violations: readonly {
    readonly id: string;
    readonly help: string;
    readonly nodes: readonly { readonly html: string; readonly failureSummary?: string }[];
  }[];
  readonly passedCount: number;
}

/** One line a violation; an empty list means none. Throws if axe found nothing to check. */
export async function axeViolations(page: Page): Promise<string[]> {
  // Evaluated by the debugger, so that the page's own content security policy stays on; once a document.
  if (!(await page.evaluate<boolean>('window.axe !== undefined'))) await page.evaluate(axeSource);
  // Of the rest, which nobody reads here, one element a rule is worked out, and none leaves the page.
  const results = await page.evaluate<Found>(`axe.run(document, {
    runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
    resultTypes: ['violations'],
  }).then(({ violations, passes }) => ({ violations, passedCount: passes.length }))`);
  if (results.passedCount === 0) throw new Error('axe checked nothing');
  return results.violations.map(
    (violation) =>
      `${violation.id}: ${violation.help}: ${violation.nodes
        .slice(0, 3)
        .map((node) => `${node.html.slice(0, 140)} [${node.failureSummary?.slice(0, 260) ?? ''}]`)
        .join(' | ')}`,
  );
}
