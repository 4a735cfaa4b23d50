// The id by which a page recognises the answer to its own request.

import * as z from 'zod/mini';

export const requestIdSchema = z.string().check(z.minLength(1), z.maxLength(64));
