// All alarm outputs of the hub itself together: tried at start and at intervals, sounding the most urgent alarm of any
// athlete. Which of them fails is known at any time.

import { isSameSaid, type Said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { Clock } from '../base/ports/clock.ts';
import { isSameNews } from './alarm-news.ts';
import type { AlarmNews, AlarmOutput, OutputHealth, OutputSound } from './alarm-output.ts';

export interface OutputFault {
  readonly name: Said;
  readonly reason: Said;
}

export interface AlarmOutputs {
  /** Tries each output once, audibly. */
  test(): Promise<void>;
  /** What one athlete's alarms, or those of the watching itself, call for now; null for silence. */
  setPriority(of: string, priority: AlarmPriority | null, news?: readonly AlarmNews[]): void;
  /** A drill sounds, while nothing real does. */
  setDrill(sounds: boolean): void;
  /** Nobody is monitored any more: only what is of the watching itself goes on. */
  silenceAthletes(): void;
  /** While a session runs each is probed more often. */
  setInUse(inUse: boolean): void;
  /** 1 while the hub's own loudspeaker works: what a command or webhook reaches is not known here. */
  readonly soundReadyCount: number;
  readonly faults: readonly OutputFault[];
  /** Hears of each output that begins to fail, fails otherwise, or works again (null). */
  onHealth(listener: (name: Said, reason: Said | null) => void): void;
  close(): void;
}

export interface AlarmOutputsParts {
  readonly clock: Clock;
  /** Each is given the ear for its health. */
  readonly loudspeaker: ((health: OutputHealth) => AlarmOutput) | null;
  readonly others: readonly ((health: OutputHealth) => AlarmOutput)[];
}

/** What the watching itself calls for is under this name. */
export const ofTheWatching = '';

/** While a session runs a failing output is found within this, unless it is used before. Our choice. */
const probeInUseMs = 60_000;
const probeAtRestMs = 600_000;
const urgency: Readonly<Record<AlarmPriority, number>> = { high: 3, medium: 2, low: 1 };

export function createAlarmOutputs(parts: AlarmOutputsParts): AlarmOutputs {
  return new Outputs(parts);
}

class Outputs implements AlarmOutputs {
  readonly #clock: Clock;
  readonly #all: readonly AlarmOutput[];
  readonly #loudspeaker: AlarmOutput | null;
  readonly #faults = new Map<AlarmOutput, Said>();
  readonly #worked = new Set<AlarmOutput>();
  readonly #priorities = new Map<string, AlarmPriority>();
  #listener: ((name: Said, reason: Said | null) => void) | undefined;
  readonly #news = new Map<string, readonly AlarmNews[]>();
  #drill = false;
  #sounding: OutputSound | null = null;
  #told: readonly AlarmNews[] = [];
  #stopProbing: () => void;

  constructor({ clock, loudspeaker, others }: AlarmOutputsParts) {
    this.#clock = clock;
    const made = [...(loudspeaker === null ? [] : [loudspeaker]), ...others].map((make) => {
      const output: AlarmOutput = make((fault) => this.#heard(output, fault));
      return output;
    });
    this.#all = made;
    this.#loudspeaker = loudspeaker === null ? null : (made[0] ?? null);
    this.#stopProbing = clock.every(probeAtRestMs, () => this.#probe());
  }

  async test(): Promise<void> {
    await Promise.all(
      this.#all.map(async (output) => {
        const result = await output.test();
        this.#heard(output, result.ok ? null : result.reason);
      }),
    );
  }

  setPriority(of: string, priority: AlarmPriority | null, news: readonly AlarmNews[] = []): void {
    if (priority === null) this.#priorities.delete(of);
    else this.#priorities.set(of, priority);
    if (news.length === 0) this.#news.delete(of);
    else this.#news.set(of, news);
    this.#update();
  }

  setDrill(sounds: boolean): void {
    this.#drill = sounds;
    this.#update();
  }

  silenceAthletes(): void {
    for (const all of [this.#priorities, this.#news])
      for (const of of all.keys()) if (of !== ofTheWatching) all.delete(of);
    this.#update();
  }

  setInUse(inUse: boolean): void {
    this.#stopProbing();
    this.#stopProbing = this.#clock.every(inUse ? probeInUseMs : probeAtRestMs, () => this.#probe());
    for (const output of this.#all) output.setInUse?.(inUse);
    if (inUse) this.#probe();
  }

  get soundReadyCount(): number {
    const one = this.#loudspeaker;
    return one !== null && this.#worked.has(one) && !this.#faults.has(one) ? 1 : 0;
  }

  get faults(): readonly OutputFault[] {
    return [...this.#faults].map(([{ name }, reason]) => ({ name, reason }));
  }

  onHealth(listener: (name: Said, reason: Said | null) => void): void {
    this.#listener = listener;
  }

  close(): void {
    this.#stopProbing();
    this.#priorities.clear();
    for (const output of this.#all) output.close();
  }

  #probe(): void {
    for (const output of this.#all)
      void output.probe().then((result) => this.#heard(output, result.ok ? null : result.reason));
  }

  #heard(output: AlarmOutput, fault: Said | null): void {
    const before = this.#faults.get(output);
    if (fault === null) {
      this.#worked.add(output);
      this.#faults.delete(output);
    } else this.#faults.set(output, fault);
    if (!isSameSaid(before ?? null, fault)) this.#listener?.(output.name, fault);
  }

  #update(): void {
    let most: AlarmPriority | null = null;
    for (const priority of this.#priorities.values())
      if (most === null || urgency[priority] > urgency[most]) most = priority;
    const news = [...this.#news.values()].flat();
    const sound = most ?? (this.#drill ? 'drill' : null);
    if (sound === this.#sounding && isSameNews(news, this.#told)) return;
    this.#sounding = sound;
    this.#told = news;
    // One that failed may work by now (a loudspeaker that was busy): it is told too, it just does not count.
    for (const output of this.#all) output.sound(sound, news);
  }
}
