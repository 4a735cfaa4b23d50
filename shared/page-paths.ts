// The addresses of the page's views: the page chooses its view by them, the hub answers any other with 404.

/** As `matchPath` reads them: a part that begins with a colon is any one part. */
export const pagePaths = [
  '/',
  '/live',
  '/live/:athleteId',
  '/wall',
  '/rooms',
  '/school/people',
  '/rooms/health',
  '/people',
  '/course',
  '/plans',
  '/plans/new/:builder',
  '/plans/:planId',
  '/plan-run',
  '/plan-runs/:runId',
  '/training',
  '/import',
  '/bin',
  '/backups',
  '/recordings',
  '/recordings/:sessionId',
  '/recordings/:sessionId/holds/:athleteId',
  '/recordings/:sessionId/report',
  '/recordings/:sessionId/report/:athleteId',
  '/weeks',
  '/weeks/:athleteId',
  '/weeks/:athleteId/holds',
  '/weeks/:athleteId/sessions',
  '/weeks/:athleteId/beside',
  '/devices',
  '/devices/computer',
  '/devices/profiles',
  '/join',
  '/help',
  '/help/:chapter',
  '/about',
] as const;

export type PagePath = (typeof pagePaths)[number];

/**
 * Matches "/recordings/:sessionId" against a path. Returns the named parts, or null.
 * A part of the path that is not valid percent-encoding matches nothing.
 */
export function matchPath(pattern: string, path: string): Readonly<Record<string, string>> | null {
  const wanted = pattern.split('/').filter(Boolean);
  const given = path.split('/').filter(Boolean);
  if (wanted.length !== given.length) return null;
  const parts: Record<string, string> = {};
  for (let index = 0; index < wanted.length; index += 1) {
    const want = wanted[index]!;
    const have = given[index]!;
    if (want.startsWith(':')) {
      const part = decodePathPart(have);
      if (part === null) return null;
      parts[want.slice(1)] = part;
    } else if (want !== have) return null;
  }
  return parts;
}

/** Whether some view of the page has this address. */
export const isPagePath = (path: string): boolean =>
  pagePaths.some((pattern) => matchPath(pattern, path) !== null);

function decodePathPart(part: string): string | null {
  try {
    return decodeURIComponent(part);
  } catch {
    return null;
  }
}
