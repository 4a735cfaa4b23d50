// Where each athlete stands on the wall: a place is kept until a person moves somebody. What is the matter with whom never
// moves anyone, so that eyes find them where they were. And how many tiles stand beside each other. Pure.

interface Placed {
  readonly athleteId: string;
}

/** Those whose place a person chose first, in that order; whoever is not among them after, in the session's. */
export function inPlaces<Item extends Placed>(items: readonly Item[], chosenIds: readonly string[]): Item[] {
  const byId = new Map(items.map((item) => [item.athleteId, item]));
  const chosen = chosenIds.flatMap((id) => byId.get(id) ?? []);
  const taken = new Set(chosen);
  return [...chosen, ...items.filter((item) => !taken.has(item))];
}

/** The ids with one of them a place earlier or later; as they are where there is no such place. */
export function movedBy(ids: readonly string[], athleteId: string, places: -1 | 1): readonly string[] {
  const from = ids.indexOf(athleteId);
  const to = from + places;
  if (from < 0 || to < 0 || to >= ids.length) return ids;
  const next = [...ids];
  [next[from], next[to]] = [next[to]!, next[from]!];
  return next;
}

/** A tile seen from afar is drawn for this shape: a name, two numbers and a strip for the trace. Our choice. */
const tileShape = { width: 360, height: 236 };

/** How many tiles stand beside each other, so that they are as large as the room allows. At least 1. */
export function columnsFor(count: number, widthPx: number, heightPx: number): number {
  let best = { columns: 1, scale: 0 };
  for (let columns = 1; columns <= count; columns += 1) {
    const rows = Math.ceil(count / columns);
    const scale = Math.min(widthPx / columns / tileShape.width, heightPx / rows / tileShape.height);
    if (scale > best.scale) best = { columns, scale };
  }
  return best.columns;
}

/** What each is called by from afar: their first name, and as much more as tells two of a name apart. */
export function calledNames(people: readonly (Placed & { readonly name: string })[]): Map<string, string> {
  const called = new Map<string, string>();
  for (const { athleteId, name } of people) {
    const words = name.split(/\s+/u).filter((word) => word !== '');
    let count = 1;
    const isShared = () => {
      const start = words.slice(0, count).join(' ');
      return people.some(
        (other) =>
          other.athleteId !== athleteId &&
          other.name
            .split(/\s+/u)
            .filter((word) => word !== '')
            .slice(0, count)
            .join(' ') === start,
      );
    };
    while (count < words.length && isShared()) count += 1;
    called.set(athleteId, words.slice(0, count).join(' '));
  }
  return called;
}
