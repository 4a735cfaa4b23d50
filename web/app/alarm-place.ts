// Where the frame's alarms stand in the document. A modal dialog makes everything outside it deaf and dead, so while one is
// open the alarms stand inside it; there is one of them, so that they are told once.

/** The height that others keep clear of is a matter of every element's style: with many alarms it is told once in so long. Our choice. */
const leastBetweenMs = 1_000;

export class AlarmPlace {
  readonly host: HTMLElement;
  #rest: HTMLElement | null = null;
  readonly #dialogs: HTMLElement[] = [];
  #toldAtMs = Number.NEGATIVE_INFINITY;
  #toldLater = false;

  constructor() {
    this.host = document.createElement('div');
    this.host.className = 'alarms-host';
    new ResizeObserver(() => this.#resized()).observe(this.host);
  }

  #resized(): void {
    const waitMs = this.#toldAtMs + leastBetweenMs - performance.now();
    if (waitMs <= 0) this.#tellHeight();
    else if (!this.#toldLater) {
      this.#toldLater = true;
      setTimeout(() => this.#tellHeight(), waitMs);
    }
  }

  /** What lies under it on the screen keeps clear of it. */
  #tellHeight(): void {
    this.#toldLater = false;
    this.#toldAtMs = performance.now();
    document.documentElement.style.setProperty('--alarms-height', `${this.host.offsetHeight}px`);
  }

  /** Its place while no dialog is open. */
  readonly restIn = (element: HTMLElement | null): void => {
    this.#rest = element;
    this.#settle();
  };

  /** Moves into an open dialog until the returned function is called. */
  liftInto(element: HTMLElement): () => void {
    this.#dialogs.push(element);
    this.#settle();
    return () => {
      this.#dialogs.splice(this.#dialogs.indexOf(element), 1);
      this.#settle();
    };
  }

  /** The alarms that stand in the document as it is drawn now. */
  presented(): { athleteId: string | null; alarmIds: string[] }[] {
    const byAthlete = new Map<string | null, string[]>();
    for (const element of this.host.querySelectorAll<HTMLElement>('[data-presents]')) {
      if (!isDrawn(element)) continue;
      const presents = JSON.parse(element.dataset.presents ?? '[]') as [string | null, string][];
      for (const [athleteId, alarmId] of presents)
        byAthlete.set(athleteId, [...(byAthlete.get(athleteId) ?? []), alarmId]);
    }
    return [...byAthlete].map(([athleteId, alarmIds]) => ({ athleteId, alarmIds: alarmIds.slice(0, 100) }));
  }

  #settle(): void {
    const place = this.#dialogs.at(-1) ?? this.#rest;
    if (place !== null && place !== this.host.parentElement) place.append(this.host);
  }
}

const isDrawn = (element: HTMLElement): boolean =>
  element.isConnected && element.getClientRects().length > 0 && element.textContent !== '';
