// How colours look to people who see two colours only, and how light and how far apart they are. Pure.

/** 0 to 255 each. */
export type Rgb = readonly [number, number, number];

/**
 * Machado GM, Oliveira MM, Fernandes LAF, "A physiologically-based model for simulation of color vision deficiency", IEEE
 * Trans Vis Comput Graph 2009;15:1291-8, table of severity 1.0; applied to linear light. That grey stays grey
 * is tested, and that a browser's own simulation shows the same (tests/browser/everyone.test.ts).
 */
const machado = {
  protanopia: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deuteranopia: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritanopia: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
} as const;

export const visions = ['usual', 'protanopia', 'deuteranopia', 'tritanopia'] as const;
export type Vision = (typeof visions)[number];

/** IEC 61966-2-1 (sRGB). */
const toLinear = (value: number): number => {
  const share = value / 255;
  return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
};
const toSrgb = (linear: number): number => {
  const clamped = Math.min(1, Math.max(0, linear));
  return Math.round(255 * (clamped <= 0.0031308 ? 12.92 * clamped : 1.055 * clamped ** (1 / 2.4) - 0.055));
};

export function rgbOf(hex: string): Rgb {
  const digits = /^#([0-9a-f]{6})$/i.exec(hex)?.[1];
  if (digits === undefined) throw new Error(`no colour: ${hex}`);
  const value = Number.parseInt(digits, 16);
  return [value >> 16, (value >> 8) & 255, value & 255];
}

export function seenBy(colour: Rgb, vision: Vision): Rgb {
  if (vision === 'usual') return colour;
  const [red, green, blue] = colour.map(toLinear) as [number, number, number];
  const [toRed, toGreen, toBlue] = machado[vision].map(([r, g, b]) => toSrgb(r * red + g * green + b * blue));
  return [toRed!, toGreen!, toBlue!];
}

/** Contrast of WCAG 2.2, 1 to 21. */
export function contrast(one: Rgb, other: Rgb): number {
  const [light, dark] = [luminance(one), luminance(other)].sort((a, b) => b - a) as [number, number];
  return (light + 0.05) / (dark + 0.05);
}

function luminance(colour: Rgb): number {
  const [red, green, blue] = colour.map(toLinear) as [number, number, number];
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}
