// How others find the hub: addresses in a sensible order, the announced name, QR codes, and failing gently.

import type { NetworkInterfaceInfo } from 'node:os';
import { describe, expect, test } from 'vitest';
import { announceHub, type Responder } from '../../../hub/devices/lan/announcer.ts';
import { qrSvg, qrText } from '../../../hub/devices/lan/join-qr.ts';
import { lanNames } from '../../../hub/devices/lan/lan-names.ts';
import { inWords } from '../../support/in-words.ts';

const entry = (address: string, internal = false): NetworkInterfaceInfo[] => [
  {
    address,
    internal,
    family: 'IPv4',
    netmask: '255.255.255.0',
    mac: '02:00:00:00:00:01',
    cidr: `${address}/24`,
  },
];

describe('names and addresses', () => {
  test('what a phone in the room can reach comes first', () => {
    const found = lanNames(
      'slackwater',
      {
        lo: entry('127.0.0.1', true),
        docker0: entry('172.17.0.1'),
        usb0: entry('169.254.8.8'),
        wlan0: entry('192.168.1.20'),
        eth0: entry('203.0.113.5'),
      },
      'Harbour',
    );
    expect(found.addresses).toEqual(['192.168.1.20', '203.0.113.5', '169.254.8.8', '172.17.0.1']);
    expect(found.names).toEqual(['slackwater.local', 'harbour', 'harbour.local']);
  });

  test('a machine on no network has none, and an odd machine name is left out', () => {
    expect(lanNames('slackwater', { lo: entry('127.0.0.1', true) }, 'my laptop!')).toEqual({
      names: ['slackwater.local'],
      addresses: [],
    });
  });
});

const silent = { info: () => undefined, warn: () => undefined, error: () => undefined };
const settled = () => new Promise((resolve) => setImmediate(resolve));

/** A responder of which a test keeps what it was asked for. */
function scriptedResponder(advertise: () => Promise<void>): Responder & {
  asked: object[];
  rename: (hostname: string) => void;
  stopped: number;
} {
  let onRename: (hostname: string) => void = () => undefined;
  const responder = {
    asked: [] as object[],
    stopped: 0,
    rename: (hostname: string) => onRename(hostname),
    createService(options: object) {
      responder.asked.push(options);
      return {
        on: (_event: 'hostname-change', listener: (hostname: string) => void) => {
          onRename = listener;
        },
        advertise,
      };
    },
    async shutdown() {
      responder.stopped += 1;
    },
  };
  return responder;
}

describe('announcing', () => {
  test('a service and host name of our own, taken back at the end', async () => {
    const responder = scriptedResponder(async () => undefined);
    const announcement = announceHub(7443, silent, async () => responder);
    expect(announcement.hostName).toBeNull();
    await settled();
    expect(responder.asked).toMatchObject([{ type: 'slackwater', hostname: 'slackwater', port: 7443 }]);
    expect(announcement).toMatchObject({ hostName: 'slackwater', notice: null });
    await announcement.stop();
    expect(responder.stopped).toBe(1);
  });

  test('another hub’s name is given way to', async () => {
    const responder = scriptedResponder(async () => undefined);
    const announcement = announceHub(7443, silent, async () => responder);
    await settled();
    responder.rename('slackwater-2.local.');
    expect(announcement.hostName).toBe('slackwater-2');
  });

  test.each([
    ['the library', () => Promise.reject(new Error('no multicast here'))],
    [
      'the announcement',
      () => Promise.resolve(scriptedResponder(() => Promise.reject(new Error('no multicast here')))),
    ],
  ])('a failure of %s is a notice, not a crash', async (_name, makeResponder) => {
    const announcement = announceHub(7443, silent, makeResponder);
    await settled();
    await settled();
    expect(announcement.hostName).toBeNull();
    expect(inWords(announcement.notice)).toMatch(/no multicast here.*QR code/);
    await announcement.stop();
  });
});

describe('QR codes', () => {
  // Version 3 (29 modules) holds up to 42 bytes at level M (ISO/IEC 18004 Table 7, from memory), these are 40, plus 4 quiet modules each side.
  const address = 'https://192.168.1.20:7443/join#4F7K-9QTX';

  test('the SVG is dark on light, with the quiet zone, and no script or link', () => {
    const svg = qrSvg(address);
    expect(svg).toMatch(/^<svg [^>]*viewBox="0 0 370 370"/);
    expect(svg).toContain('#fff');
    expect(svg).not.toMatch(/script|href|style=/);
    expect(svg.length).toBeLessThan(20_000);
  });

  test('the text is square: two rows of modules to a line', () => {
    const escapeCharacter = String.fromCharCode(27);
    const lines = qrText(address)
      .split('\n')
      .map((line) =>
        line.replaceAll(`${escapeCharacter}[97;40m`, '').replaceAll(`${escapeCharacter}[0m`, ''),
      );
    expect(new Set(lines.map((line) => line.length)).size).toBe(1);
    expect(lines.length).toBe(Math.ceil(lines[0]!.length / 2));
  });
});
