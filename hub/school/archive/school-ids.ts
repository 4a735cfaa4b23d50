// Ids as a school's pages know them: a session by its hub, an athlete by the person they are, however many hubs know them.

/** Hubs' names have no dot (shared/school/subjects.ts). */
export const schoolSessionId = (hub: string, sessionId: string): string => `${hub}.${sessionId}`;

export function hubOfSession(id: string): { readonly hub: string; readonly sessionId: string } | undefined {
  const at = id.indexOf('.');
  return at <= 0 ? undefined : { hub: id.slice(0, at), sessionId: id.slice(at + 1) };
}

/** Where ids of athletes stand in what hubs keep, by the name of their field. */
const athleteFields = new Set(['athleteId', 'athleteIds', 'fromAthleteId', 'toAthleteId']);

export interface IdsOfHub {
  readonly hub: string;
  /** The person that an athlete of the hub is. */
  readonly personOf: (athleteId: string) => string;
}

/** The same value with a school's ids in the place of the hub's. */
export function inSchoolIds<Value>(value: Value, ids: IdsOfHub): Value {
  return renamed(value, '', ids) as Value;
}

function renamed(value: unknown, field: string, ids: IdsOfHub): unknown {
  if (typeof value === 'string') {
    if (athleteFields.has(field)) return ids.personOf(value);
    return field === 'sessionId' ? schoolSessionId(ids.hub, value) : value;
  }
  if (typeof value !== 'object' || value === null || ArrayBuffer.isView(value)) return value;
  if (Array.isArray(value)) return value.map((each) => renamed(each, field, ids));
  return Object.fromEntries(Object.entries(value).map(([name, each]) => [name, renamed(each, name, ids)]));
}
