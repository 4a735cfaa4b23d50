// Grows a byte buffer piece by piece: the writing half of the recorder's two packet encodings.

const utf8 = new TextEncoder();

export class ByteWriter {
  #bytes = new Uint8Array(1024);
  #view = new DataView(this.#bytes.buffer);
  #length = 0;

  u8(value: number): void {
    this.#reserve(1);
    this.#bytes[this.#length++] = value;
  }

  /** Unsigned LEB128 of a whole number up to 2^53 - 1. */
  varint(value: number): void {
    this.#reserve(8);
    let rest = value;
    while (rest >= 0x80) {
      this.#bytes[this.#length++] = (rest % 0x80) | 0x80;
      rest = Math.floor(rest / 0x80);
    }
    this.#bytes[this.#length++] = rest;
  }

  f64(value: number): void {
    this.#reserve(8);
    this.#view.setFloat64(this.#length, value, true);
    this.#length += 8;
  }

  bytes(value: Uint8Array): void {
    this.#reserve(value.length);
    this.#bytes.set(value, this.#length);
    this.#length += value.length;
  }

  /** Length, then the bytes. */
  block(value: Uint8Array): void {
    this.varint(value.length);
    this.bytes(value);
  }

  text(value: string): void {
    this.block(utf8.encode(value));
  }

  /** A copy of all that was written. */
  finish(): Uint8Array {
    return this.#bytes.slice(0, this.#length);
  }

  #reserve(count: number): void {
    if (this.#length + count <= this.#bytes.length) return;
    const grown = new Uint8Array(Math.max(this.#bytes.length * 2, this.#length + count));
    grown.set(this.#bytes.subarray(0, this.#length));
    this.#bytes = grown;
    this.#view = new DataView(grown.buffer);
  }
}
