// A chart exists while its place is on the screen or about to be: a canvas takes memory and time to make, and a wall of hundreds
// of athletes has a screenful in sight.

/** Of the screen's height above and below: scrolled to, a trace is there already. Our choice. */
const margin = '50% 0px';

/** Makes what `make` makes whenever the element comes near the screen, and unmakes it when it leaves; the answer ends both. */
export function whileNear(element: Element, make: () => () => void): () => void {
  let unmake: (() => void) | undefined;
  const observer = new IntersectionObserver(
    (entries) => {
      const isNear = entries.at(-1)?.isIntersecting === true;
      if (isNear && unmake === undefined) unmake = make();
      else if (!isNear) {
        unmake?.();
        unmake = undefined;
      }
    },
    { rootMargin: margin },
  );
  observer.observe(element);
  return () => {
    observer.disconnect();
    unmake?.();
  };
}
