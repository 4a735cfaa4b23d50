// A ZIP archive made a file at a time, of any size: beyond 4 GB or 65,535 files in its 64-bit form (APPNOTE 6.3.10 s4.3.14).

import { makeZip } from 'client-zip';

export interface ZippedFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** The files as they are, not packed any more; the next is asked for when the one before has been taken. */
export async function* zipOf(
  files: AsyncIterable<ZippedFile>,
  lastModified: Date,
): AsyncGenerator<Uint8Array, void, undefined> {
  async function* entries() {
    for await (const { name, bytes } of files) yield { name, input: bytes, lastModified };
  }
  const reader = makeZip(entries(), { buffersAreUTF8: true }).getReader();
  try {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      yield value;
    }
  } finally {
    // Whoever takes it has gone: nothing more is made. It answers with what it was stopped by, which is nobody's fault.
    await reader.cancel().catch(() => undefined);
  }
}
