// The handbook's pictures: their names, sizes and places. `npm run handbook:pictures` makes them of the running program.

import type { HandbookLanguage } from './chapters.ts';

export const pictureNames = [
  'setup',
  'sound-check',
  'live',
  'floor-alarm',
  'wall',
  'course',
  'recordings',
  'recording',
  'measures',
  'backups',
] as const;
export type PictureName = (typeof pictureNames)[number];

export const pictureSizes = {
  /** The window's size in CSS pixels. */
  wide: { width: 1120, height: 700 },
  phone: { width: 390, height: 720 },
} as const;
export type PictureSize = keyof typeof pictureSizes;

export interface Picture {
  /** On the page; below `web/public` in the repository. */
  readonly path: string;
  readonly width: number;
  readonly height: number;
}

export const picturePath = (language: HandbookLanguage, name: string, size: PictureSize): string =>
  `/handbook/${language}/${name}-${size}.webp`;

/** Undefined where there is none of that name. */
export function pictureOf(language: HandbookLanguage, name: string, size: PictureSize): Picture | undefined {
  if (!pictureNames.some((known) => known === name)) return undefined;
  return { path: picturePath(language, name, size), ...pictureSizes[size] };
}
