// The buttons by which marks can be made without touching the page, and what each can do. Pure.

export const handButtons = [
  'PageDown',
  'PageUp',
  'Space',
  'mediaPlay',
  'mediaNext',
  'mediaPrevious',
] as const;
export type HandButton = (typeof handButtons)[number];

/** `boundary`: the end of a hold during one, a start otherwise. */
export const handActions = ['nothing', 'boundary', 'contraction', 'breathing'] as const;
export type HandAction = (typeof handActions)[number];

/** By `KeyboardEvent.key` (UI Events KeyboardEvent key Values, W3C). */
const keys: Readonly<Record<string, HandButton>> = {
  PageDown: 'PageDown',
  PageUp: 'PageUp',
  ' ': 'Space',
  MediaPlayPause: 'mediaPlay',
  MediaPlay: 'mediaPlay',
  MediaPause: 'mediaPlay',
  MediaTrackNext: 'mediaNext',
  MediaTrackPrevious: 'mediaPrevious',
};

export const buttonOfKey = (key: string): HandButton | undefined =>
  Object.hasOwn(keys, key) ? keys[key] : undefined;
