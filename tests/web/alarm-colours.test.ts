// Alarm colours as people see them who see two colours only: worked out from the style sheets by a published model. The
// high alarm is the strongest to everyone, in light and dark, and every word stays readable.

import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { contrast, type Rgb, rgbOf, seenBy, visions } from '../support/colour-vision.ts';

const read = (path: string): string =>
  readFileSync(new URL(`../../web/${path}`, import.meta.url), 'utf8').replaceAll(/\/\*[\s\S]*?\*\//g, '');

/** Custom properties that a rule of exactly this selector (one of its list) declares. */
function declared(css: string, selector: string): Map<string, string> {
  const found = new Map<string, string>();
  for (const [, selectors, body] of css.matchAll(/([^{}]+)\{([^{}]*)\}/g)) {
    if (!selectors!.split(',').some((one) => one.trim() === selector)) continue;
    for (const [, name, value] of body!.matchAll(/(--[\w-]+):\s*([^;]+);/g)) found.set(name!, value!.trim());
  }
  return found;
}

// Forced colours come last in the sheet and are tested in a browser.
const alarmSheet = read('components/alarm.css').split('@media (forced-colors')[0]!;
const tokens = read('styles/tokens.css');
const light = declared(tokens, ':root');
const themes = {
  light,
  dark: new Map([...light, ...declared(tokens, ':root[data-theme="dark"]')]),
};

interface AlarmColours {
  readonly fill: Rgb;
  readonly edge: Rgb;
  readonly ink: Rgb;
  /** Black and white beside one another, where there is a band. */
  readonly band: readonly [Rgb, Rgb] | null;
  readonly ground: Rgb;
}

function coloursOf(theme: keyof typeof themes, priority: 'high' | 'medium' | 'low'): AlarmColours {
  const own = new Map([...themes[theme], ...declared(alarmSheet, `.alarm--${priority}`)]);
  const resolve = (value: string): string => {
    const name = /^var\((--[\w-]+)\)$/.exec(value)?.[1];
    return name === undefined ? value : resolve(own.get(name) ?? `nothing for ${name}`);
  };
  const colour = (name: string): Rgb => rgbOf(resolve(`var(${name})`));
  const band = own.get('--alarm-band');
  return {
    fill: colour('--alarm-fill'),
    edge: colour('--alarm-edge'),
    ink: colour('--alarm-ink'),
    band:
      band?.includes('--alarm-band-dark') && band.includes('--alarm-band-light')
        ? [colour('--alarm-band-dark'), colour('--alarm-band-light')]
        : null,
    ground: colour('--ground'),
  };
}

const cases = (['light', 'dark'] as const).flatMap((theme) =>
  visions.map((vision) => [theme, vision] as const),
);

describe.each(cases)('in the %s theme, to %s vision', (theme, vision) => {
  const seen = (priority: 'high' | 'medium' | 'low') => {
    const { fill, edge, ink, band, ground } = coloursOf(theme, priority);
    const view = (colour: Rgb): Rgb => seenBy(colour, vision);
    const parts = [fill, edge, ink, ...(band ?? []), ground].map(view);
    return {
      /** How far what it fills stands out from the page. */
      block: contrast(view(fill), view(ground)),
      edge: contrast(view(edge), view(ground)),
      words: contrast(view(ink), view(fill)),
      /** The greatest difference of lightness in it. */
      sharpest: Math.max(...parts.flatMap((one) => parts.map((other) => contrast(one, other)))),
      band: band === null ? 1 : contrast(view(band[0]), view(band[1])),
      lightness: view(fill),
    };
  };
  const [high, medium, low] = [seen('high'), seen('medium'), seen('low')];

  test('a high alarm fills its block with what stands out most, far from the page and from the others', () => {
    expect(high.block).toBeGreaterThanOrEqual(3);
    expect(high.block).toBeGreaterThan(1.8 * medium.block);
    expect(high.block).toBeGreaterThan(1.8 * low.block);
    expect(contrast(high.lightness, medium.lightness)).toBeGreaterThanOrEqual(2);
  });
  test('nothing is sharper than its band of black and white, which no other alarm has', () => {
    expect(high.band).toBe(21);
    expect(high.sharpest).toBeGreaterThan(medium.sharpest);
    expect(high.sharpest).toBeGreaterThan(low.sharpest);
    expect([medium.band, low.band]).toEqual([1, 1]);
  });
  test('words stay readable on each (WCAG 2.2, 1.4.3), and the edge of a low alarm shows (1.4.11)', () => {
    for (const { words } of [high, medium, low]) expect(words).toBeGreaterThanOrEqual(4.5);
    expect(low.edge).toBeGreaterThanOrEqual(3);
  });
});

describe('the model', () => {
  test('leaves grey as it is', () => {
    for (const vision of visions)
      for (const value of [0, 40, 128, 200, 255])
        for (const channel of seenBy([value, value, value], vision))
          expect(Math.abs(channel - value)).toBeLessThanOrEqual(1);
  });
  test('says what made this necessary: to a deuteranope a plain red is dull and darker than yellow', () => {
    const [red, yellow] = [
      seenBy(rgbOf('#c4001a'), 'deuteranopia'),
      seenBy(rgbOf('#ffd500'), 'deuteranopia'),
    ];
    // Red and green alike: olive.
    expect(Math.abs(red[0] - red[1])).toBeLessThan(40);
    expect(contrast(red, rgbOf('#0b1720'))).toBeLessThan(contrast(yellow, rgbOf('#0b1720')) / 3);
  });
});

/** The beacon of each priority is another shape, and every priority has its word. */
test('shape and word tell priorities apart without any colour', () => {
  const beacon = readFileSync(new URL('../../web/components/beacon.tsx', import.meta.url), 'utf8');
  const paths = [...beacon.matchAll(/(high|medium|low): '(M[^']+)'/g)].map(
    ([, , path]) => path!.split('M')[1],
  );
  expect(paths).toHaveLength(3);
  expect(new Set(paths).size).toBe(3);
});
