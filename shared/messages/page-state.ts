// pageState: what a page can do for its athlete now; sent every second, so its silence is noticed too.

import * as z from 'zod/mini';

export const pageStateMessageSchema = z.object({
  type: z.literal('pageState'),
  visible: z.boolean(),
  /** The person has passed the sound check on this page and its audio is running. */
  soundReady: z.boolean(),
});
