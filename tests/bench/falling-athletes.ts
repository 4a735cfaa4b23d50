// Athletes of a bench with a strap and a clip each, of whom one after another falls below the floor when told to. SIMULATED.

import type { SensorListener, SensorSource } from '../../hub/base/ports/sensor-source.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { systemClock } from '../../hub/base/system-clock.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { percent } from '../../shared/units.ts';
import { announceSensors } from './bench-sensors.ts';

/** One alarm a second, each from silence: acknowledged before the next, so that every one starts its own burst. */
export const alarmEveryMs = 1_200;
export const acknowledgeAfterMs = 650;
/** A fall that blood can make, so that the floor alarm needs its shortest persistence (alarm-limits.ts). */
const abovePercent = 89;
const lowPercent = 87;

/** Every second athlete holds all the while, so that the forecasts have their work to do; the others alarm. */
export const isHolding = (athlete: number): boolean => athlete % 2 === 1;

/** Their ids; each with the sensors of `announceSensors`. */
export function saveFallingAthletes(
  store: Pick<Store, 'saveAthlete' | 'assignSensor'>,
  athleteCount: number,
): readonly string[] {
  const athleteIds = Array.from({ length: athleteCount }, (_, index) => `athlete-${index}`);
  athleteIds.forEach((athleteId, index) => {
    store.saveAthlete({
      athleteId,
      name: athleteId,
      simulated: true,
      settings: {
        ...initialSettings,
        floorSpo2Percent: percent(88),
        // Falls are made here again and again: a forecast's own alarm would sound before the one that is measured.
        forecastAlarm: isHolding(index) ? 'medium' : 'off',
      },
    });
    store.assignSensor(`heartRate-${index}`, athleteId);
    store.assignSensor(`oximeter-${index}`, athleteId);
  });
  return athleteIds;
}

/** Everyone sends once a second, each at another moment; one after another falls below the floor when told to. */
export class FallingAthletes implements SensorSource {
  readonly source = 'bluetooth';
  readonly #athleteCount: number;
  readonly #timers: NodeJS.Timeout[] = [];
  #listener: SensorListener | undefined;
  readonly #low = new Set<number>();
  readonly #lastOximetryMs = new Map<number, number>();

  constructor(athleteCount: number) {
    this.#athleteCount = athleteCount;
  }

  async start(listener: SensorListener): Promise<void> {
    this.#listener = listener;
    for (let athlete = 0; athlete < this.#athleteCount; athlete += 1) {
      announceSensors(listener, athlete);
      const spreadMs = (athlete * alarmEveryMs) / this.#athleteCount;
      this.#timers.push(
        setTimeout(() => {
          this.#timers.push(
            setInterval(() => this.#send('heartRate', athlete), 1_000),
            // While an alarm is being made the oximeter's packets are sent by hand.
            setInterval(() => this.#low.has(athlete) || this.#send('oximeter', athlete), 1_000),
          );
        }, spreadMs),
      );
    }
  }

  async stop(): Promise<void> {
    for (const timer of this.#timers) clearInterval(timer);
  }

  /** Three readings below the floor; the third comes when two seconds are just up (a timer may be 1 ms early) and makes the alarm. */
  fall(athlete: number): void {
    this.#low.add(athlete);
    const sinceMs = this.#send('oximeter', athlete);
    const at = (dueMs: number, action: () => void): void => {
      this.#timers.push(setTimeout(action, Math.max(0, dueMs - systemClock.nowMs())));
    };
    at(sinceMs + 1_000, () => this.#send('oximeter', athlete));
    at(sinceMs + 2_005, () => {
      this.#send('oximeter', athlete);
      at(systemClock.nowMs() + 1_000, () => {
        this.#low.delete(athlete);
        this.#send('oximeter', athlete);
      });
    });
  }

  /** When the athlete's last saturation came in. */
  lastOximetryMs(athlete: number): number {
    return this.#lastOximetryMs.get(athlete) ?? Number.NaN;
  }

  #send(kind: 'heartRate' | 'oximeter', athlete: number): number {
    const receivedAtMs = systemClock.nowMs();
    const isLow = this.#low.has(athlete);
    if (kind === 'oximeter') this.#lastOximetryMs.set(athlete, receivedAtMs);
    this.#listener?.packet({
      sensorId: `${kind}-${athlete}`,
      characteristic: kind === 'heartRate' ? '2a37' : '2a5f',
      bytes:
        kind === 'heartRate'
          ? Uint8Array.of(0x16, 60 + (athlete % 5), 0, 4)
          : Uint8Array.of(0, isLow ? lowPercent : isHolding(athlete) ? 97 : abovePercent, 0, 60, 0),
      receivedAtMs,
    });
    return receivedAtMs;
  }
}
