// A hub's way to its school before anything is known of it: what the thread begins with, and the hub until it is told more.

import type { SchoolLink } from '../../../shared/school/pages.ts';

export const linkAtFirst: SchoolLink = {
  link: 'connecting',
  fault: null,
  setAside: [],
  notices: [],
  waitingCount: 0,
  keptAtWallMs: null,
  sentSegmentCount: 0,
  isCaughtUp: false,
};
