// Who is at a page now: what each page last said of itself, and how long it has been silent.

import type { ProcessMs } from '../../shared/units.ts';
import type { PresentPage } from '../../shared/views.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { PageDevice } from '../devices/join/device-register.ts';
import { pageSilenceMs } from '../live/output-presence.ts';
import type { PageAccess } from './access.ts';

interface OpenPage {
  readonly access: PageAccess;
  visible: boolean;
  soundReady: boolean;
  heardAtMs: ProcessMs;
}

export interface Presence {
  opened(pageId: string, access: PageAccess): void;
  said(pageId: string, said: { readonly visible: boolean; readonly soundReady: boolean }): void;
  closed(pageId: string): void;
  /** Pages on the hub's own machine first, then by device; each device without a page once, as absent. */
  list(devices: readonly PageDevice[]): PresentPage[];
}

export function createPresence(clock: Clock): Presence {
  const pages = new Map<string, OpenPage>();

  function stateOf(page: OpenPage): PresentPage['state'] {
    // A page says its state every second; one that is open and does not is asleep, whatever it said last.
    if (clock.nowMs() - page.heardAtMs > pageSilenceMs) return 'silent';
    return page.visible ? 'visible' : 'hidden';
  }

  function pagesOf(deviceId: string | null, device: PageDevice | undefined): PresentPage[] {
    return [...pages]
      .filter(([, page]) => page.access.deviceId === deviceId)
      .map(([pageId, page]) => {
        const state = stateOf(page);
        return {
          pageId,
          deviceId,
          name: device?.name ?? '',
          role: page.access.role,
          athleteId: device?.athleteId ?? null,
          state,
          soundReady: page.soundReady && state !== 'silent',
        };
      });
  }

  return {
    opened(pageId, access) {
      pages.set(pageId, { access, visible: false, soundReady: false, heardAtMs: clock.nowMs() });
    },
    said(pageId, { visible, soundReady }) {
      const page = pages.get(pageId);
      if (page !== undefined) Object.assign(page, { visible, soundReady, heardAtMs: clock.nowMs() });
    },
    closed(pageId) {
      pages.delete(pageId);
    },
    list(devices) {
      return [
        ...pagesOf(null, undefined),
        ...devices.flatMap((device): PresentPage[] => {
          const open = pagesOf(device.deviceId, device);
          if (open.length > 0) return open;
          const { deviceId, name, role, athleteId } = device;
          return [{ pageId: null, deviceId, name, role, athleteId, state: 'absent', soundReady: false }];
        }),
      ];
    },
  };
}
