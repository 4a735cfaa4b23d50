// One animation-frame loop for every live chart of the page: at most ten redraws a second, none while hidden.

const leastIntervalMs = 100;

class RedrawLoop {
  readonly #draws = new Set<() => void>();
  #frame = 0;
  #lastMs = 0;

  /** Calls `draw` at most ten times a second until the returned function is called. */
  add(draw: () => void): () => void {
    this.#draws.add(draw);
    if (this.#frame === 0) this.#frame = requestAnimationFrame(this.#step);
    return () => {
      this.#draws.delete(draw);
      if (this.#draws.size === 0) {
        cancelAnimationFrame(this.#frame);
        this.#frame = 0;
      }
    };
  }

  // The browser itself calls no animation frames while the page is hidden.
  readonly #step = (nowMs: number): void => {
    this.#frame = requestAnimationFrame(this.#step);
    if (nowMs - this.#lastMs < leastIntervalMs - 4) return;
    this.#lastMs = nowMs;
    for (const draw of this.#draws) draw();
  };
}

export const redrawLoop = new RedrawLoop();
