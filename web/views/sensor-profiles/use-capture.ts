// The bytes on the page: from a file, from the example, or as a sensor sends them to the hub, asked for twice a second.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { BenchBody, BenchSensor } from '../../../shared/sensor-profiles.ts';
import {
  type CapturedPacket,
  captureHeader,
  captureLine,
  parseCapture,
} from '../../../src/profiles/capture-file.ts';
import { useApp } from '../../app/app-context.ts';

/** More are not looked at: a minute of a sensor that sends ten packets a second. */
const mostPackets = 600;
const askEveryMs = 500;
const lookEveryMs = 2_000;

export type Examined = NonNullable<BenchBody['examined']>;

export function useCapture() {
  const { text, http, say } = useApp();
  const packets = useSignal<readonly CapturedPacket[]>([]);
  const around = useSignal<readonly BenchSensor[] | null>(null);
  const examined = useSignal<Omit<Examined, 'packets'> | null>(null);
  const problem = useSignal<string | null>(null);
  const isSimulated = useSignal(false);
  const listensTo = useSignal<string | null>(null);
  const looks = useSignal(false);
  const words = text.profiles.capture;

  const take = (captured: readonly CapturedPacket[], simulated: boolean): void => {
    packets.value = captured.slice(-mostPackets);
    isSimulated.value = simulated;
    problem.value = null;
  };
  const takeText = (captureText: string, simulated: boolean): void => {
    const parsed = parseCapture(captureText);
    if (parsed.ok) take(parsed.value, simulated);
    else problem.value = say(parsed.reason);
  };
  const listen = async (sensorId: string, profileText: string | null): Promise<void> => {
    const begun = await http.examine(sensorId, profileText);
    if (!begun.ok) {
      problem.value = words.failed(begun.reason);
      return;
    }
    take([], false);
    listensTo.value = null;
    listensTo.value = `${sensorId} ${profileText ?? ''}`;
    looks.value = false;
  };
  const stop = async (): Promise<void> => {
    listensTo.value = null;
    examined.value = null;
    await http.endExamining();
  };

  const listening = listensTo.value;
  useEffect(() => {
    if (listening === null) return;
    let after = 0;
    let isAsking = false;
    const ask = async (): Promise<void> => {
      if (isAsking) return;
      isAsking = true;
      const answer = await http.examined(after);
      isAsking = false;
      if (listensTo.value !== listening || !answer.ok) return;
      const now = answer.value.examined;
      if (now === null) {
        listensTo.value = null;
        examined.value = null;
        problem.value = words.ended;
        return;
      }
      const fresh = now.packets.map(({ atMs, characteristic, hex }) => ({
        atMs,
        characteristic,
        bytes: Uint8Array.from(hex.match(/[0-9a-f]{2}/g) ?? [], (pair) => Number.parseInt(pair, 16)),
      }));
      after = now.packets.at(-1)?.number ?? after;
      examined.value = { sensor: now.sensor, characteristics: now.characteristics };
      if (fresh.length > 0) packets.value = [...packets.value, ...fresh].slice(-mostPackets);
    };
    const timer = setInterval(() => void ask(), askEveryMs);
    void ask();
    return () => clearInterval(timer);
  }, [listening]);

  const isLooking = looks.value;
  useEffect(() => {
    if (!isLooking) return;
    const look = async (): Promise<void> => {
      const answer = await http.lookAround();
      if (answer.ok) around.value = answer.value.sensors;
      else problem.value = words.failed(answer.reason);
    };
    const timer = setInterval(() => void look(), lookEveryMs);
    void look();
    return () => clearInterval(timer);
  }, [isLooking]);

  return {
    packets,
    around,
    examined,
    problem,
    isSimulated,
    listensTo,
    looks,
    takeText,
    listen,
    stop,
    /** As a file of `slackwater capture`. */
    asFile: (name: string) => captureHeader(name) + packets.value.map(captureLine).join(''),
  };
}

export type Capture = ReturnType<typeof useCapture>;

/** Hands a text to the person as a file. */
export function saveText(name: string, content: string): void {
  const url = URL.createObjectURL(new Blob([content], { type: 'text/plain' }));
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  URL.revokeObjectURL(url);
}
