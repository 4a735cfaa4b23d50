// A plan as a file: JSON text to a plan or to every problem in it, each with line, column, field and reason; and back.

import { findNodeAtLocation, type Node, type ParseError, parseTree, printParseErrorCode } from 'jsonc-parser';
import type * as z from 'zod/mini';
import { type Plan, planFormat, planSchema } from '../../shared/plan.ts';
import { type Said, said } from '../../shared/said.ts';
import { failed, ok, type Result } from '../result.ts';
import { jsonFault } from './json-fault.ts';

export interface PlanFileProblem {
  /** From 1. */
  readonly line: number;
  /** From 1, in UTF-16 units. */
  readonly column: number;
  /** `rows[2].ceilingSeconds`; empty for the file as a whole. */
  readonly field: string;
  readonly reason: Said;
}

/** Longer texts are refused unread: the longest plan there can be is far shorter. */
export const mostPlanFileCharacters = 100_000;

/** Reads a plan file. Never throws; every problem that can be told is in the answer, in order of place. */
export function parsePlanFile(text: string): Result<Plan, readonly PlanFileProblem[]> {
  const place = (offset: number) => placeOf(text, offset);
  const whole = (reason: Said, offset = 0) => failed([{ ...place(offset), field: '', reason }]);
  if (text.length > mostPlanFileCharacters)
    return whole(said('planFile.tooLong', { characters: text.length, most: mostPlanFileCharacters }));
  if (text.trim() === '') return whole(said('planFile.empty'));
  const body = text.startsWith('\uFEFF') ? ` ${text.slice(1)}` : text;
  if (nestingDepth(body) > 20) return whole(said('planFile.tooDeep'));
  const syntax: ParseError[] = [];
  const tree = parseTree(body, syntax, { disallowComments: true });
  if (syntax.length > 0 || tree === undefined) {
    const first = syntax[0];
    return first === undefined
      ? whole(said('planFile.notJson'))
      : whole(said('planFile.notJsonAt', { fault: printParseErrorCode(first.error) }), first.offset);
  }
  if (tree.type !== 'object') return whole(said('planFile.notObject'));
  const parsed = planSchema.safeParse(JSON.parse(body));
  if (parsed.success) return ok(parsed.data);
  const problems = parsed.error.issues.flatMap((issue) => problemsOf(issue, tree, place));
  return failed(problems.toSorted((one, other) => one.line - other.line || one.column - other.column));
}

/** Writes a plan as a file that `parsePlanFile` reads back to an equal plan. */
export const writePlanFile = (plan: Plan): string => `${JSON.stringify(plan, undefined, 2)}\n`;

/** "plan.json:4:17 rows[2].ceilingSeconds: must be at least 5", worded by `say`. */
export const planProblemText = (
  fileName: string,
  problem: PlanFileProblem,
  say: (said: Said) => string,
): string =>
  `${fileName}:${problem.line}:${problem.column} ${problem.field === '' ? '' : `${problem.field}: `}${say(problem.reason)}`;

type Issue = z.core.$ZodIssue;

function problemsOf(
  issue: Issue,
  tree: Node,
  place: (offset: number) => { line: number; column: number },
): readonly PlanFileProblem[] {
  const path = issue.path.map((part) => (typeof part === 'number' ? part : String(part)));
  if (issue.code === 'unrecognized_keys')
    return issue.keys.map((key) => ({
      ...place(nodeNear(tree, [...path, key]).offset),
      field: fieldName([...path, key]),
      reason: said('planFile.unknownField'),
    }));
  return [
    { ...place(nodeNear(tree, path).offset), field: fieldName(path), reason: reasonOf(issue, tree, path) },
  ];
}

type Path = readonly (string | number)[];

/** The node at `path`, or the nearest one around it when the field is missing. */
function nodeNear(tree: Node, path: Path): Node {
  for (let length = path.length; length > 0; length -= 1) {
    const node = findNodeAtLocation(tree, path.slice(0, length));
    if (node !== undefined) return node;
  }
  return tree;
}

function reasonOf(issue: Issue, tree: Node, path: Path): Said {
  if (path.length > 0 && findNodeAtLocation(tree, [...path]) === undefined) return said('json.missing');
  const field = path.at(-1);
  if (issue.code === 'invalid_value' && field === 'format')
    return said('planFile.format', { format: planFormat });
  if (issue.code === 'invalid_value' && field === 'version')
    return said('planFile.version', { versions: issue.values.join(', ') });
  return jsonFault(issue);
}

/** `rows[2].ceilingSeconds` */
const fieldName = (path: Path): string =>
  path.reduce<string>(
    (name, part) => (typeof part === 'number' ? `${name}[${part}]` : name === '' ? part : `${name}.${part}`),
    '',
  );

function placeOf(text: string, offset: number): { line: number; column: number } {
  const before = text.slice(0, Math.min(offset, text.length));
  const lines = before.split(/\r\n|\r|\n/);
  return { line: lines.length, column: (lines.at(-1) ?? '').length + 1 };
}

/** Deepest bracket nesting outside strings: the parser recurses, and a hostile file must not exhaust the stack. */
function nestingDepth(text: string): number {
  let depth = 0;
  let deepest = 0;
  let quoted = false;
  for (let index = 0; index < text.length; index += 1) {
    const character = text[index];
    if (quoted) {
      if (character === '\\') index += 1;
      else if (character === '"') quoted = false;
    } else if (character === '"') quoted = true;
    else if (character === '[' || character === '{') {
      depth += 1;
      deepest = Math.max(deepest, depth);
    } else if (character === ']' || character === '}') depth -= 1;
  }
  return deepest;
}
