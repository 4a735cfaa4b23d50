// Reads what ByteWriter wrote. Bounds are checked at every step: hostile bytes end in a MalformedBytes, nowhere else.

const utf8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });

/** The bytes do not mean anything here. Caught by the decoders, which answer with its text as a reason. */
export class MalformedBytes extends Error {
  override readonly name = 'MalformedBytes';
}

export class ByteReader {
  readonly #bytes: Uint8Array;
  readonly #view: DataView;
  #at = 0;

  constructor(bytes: Uint8Array) {
    // Not a Buffer, whose slices would share its memory.
    this.#bytes = new Uint8Array(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }

  get remaining(): number {
    return this.#bytes.length - this.#at;
  }

  u8(): number {
    return this.#bytes[this.#advance(1)]!;
  }

  /** A whole number no larger than `most`. */
  varint(most = Number.MAX_SAFE_INTEGER): number {
    let value = 0;
    for (let scale = 1; scale < 2 ** 53; scale *= 0x80) {
      const byte = this.u8();
      value += (byte & 0x7f) * scale;
      if (byte < 0x80) {
        if (value > most) throw new MalformedBytes('countTooLarge');
        return value;
      }
    }
    throw new MalformedBytes('endlessNumber');
  }

  f64(): number {
    return this.#view.getFloat64(this.#advance(8), true);
  }

  /** A view, not a copy. */
  bytes(count: number): Uint8Array {
    const start = this.#advance(count);
    return this.#bytes.subarray(start, start + count);
  }

  block(): Uint8Array {
    return this.bytes(this.varint());
  }

  text(): string {
    try {
      return utf8.decode(this.block());
    } catch (cause) {
      if (cause instanceof MalformedBytes) throw cause;
      throw new MalformedBytes('notUtf8');
    }
  }

  /** Throws unless everything was read. */
  end(): void {
    if (this.remaining !== 0) throw new MalformedBytes('bytesTooMany');
  }

  #advance(count: number): number {
    const start = this.#at;
    if (count > this.remaining) throw new MalformedBytes('cutOff');
    this.#at += count;
    return start;
  }
}
