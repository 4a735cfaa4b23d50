// Numbers and texts as bytes, and back. Reading never throws: past the end it answers 0 and remembers that it overran.

/** Varints are written of whole numbers up to here. */
const mostVarint = 2 ** 31;
/** Values of at most this many tenths are written short. */
const mostTenths = 2 ** 27;

export class ByteWriter {
  #bytes = new Uint8Array(64);
  #view = new DataView(this.#bytes.buffer);
  #length = 0;

  /** From the beginning again, in the same memory. */
  begin(): this {
    this.#length = 0;
    return this;
  }

  byte(value: number): void {
    this.#makeRoom(1);
    this.#bytes[this.#length] = value;
    this.#length += 1;
  }

  /** A whole number from 0 to 2^31, seven bits a byte, the lowest first. */
  varint(value: number): void {
    this.#makeRoom(5);
    let rest = value;
    while (rest > 0x7f) {
      this.#bytes[this.#length++] = (rest & 0x7f) | 0x80;
      rest = Math.floor(rest / 128);
    }
    this.#bytes[this.#length++] = rest;
  }

  float64(value: number): void {
    this.#makeRoom(8);
    this.#view.setFloat64(this.#length, value, true);
    this.#length += 8;
  }

  /** Exactly: of whole tenths one to four bytes, of any other nine. */
  number(value: number): void {
    const tenths = Math.round(value * 10);
    if (tenths / 10 === value && Math.abs(tenths) < mostTenths)
      this.varint(2 * (tenths < 0 ? -2 * tenths - 1 : 2 * tenths));
    else {
      this.varint(1);
      this.float64(value);
    }
  }

  /** UTF-16 code units, each a varint: what is ASCII takes a byte a letter. */
  text(value: string): void {
    this.varint(value.length);
    for (let index = 0; index < value.length; index += 1) this.varint(value.charCodeAt(index));
  }

  /** What was written; a copy of its own. */
  written(): Uint8Array {
    return this.#bytes.slice(0, this.#length);
  }

  #makeRoom(count: number): void {
    if (this.#length + count <= this.#bytes.length) return;
    const larger = new Uint8Array(2 * this.#bytes.length);
    larger.set(this.#bytes);
    this.#bytes = larger;
    this.#view = new DataView(larger.buffer);
  }
}

export class ByteReader {
  readonly #bytes: Uint8Array;
  readonly #view: DataView;
  #at = 0;
  #overran = false;

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }

  get atEnd(): boolean {
    return this.#at >= this.#bytes.length;
  }

  /** Something was asked for that is not there, or a varint was too long: nothing read since then counts. */
  get overran(): boolean {
    return this.#overran;
  }

  byte(): number {
    const value = this.#bytes[this.#at];
    if (value === undefined) return this.#fail();
    this.#at += 1;
    return value;
  }

  varint(): number {
    let value = 0;
    let weight = 1;
    for (;;) {
      const byte = this.byte();
      value += (byte & 0x7f) * weight;
      if (value > mostVarint) return this.#fail();
      if (byte < 0x80) return value;
      weight *= 128;
    }
  }

  /** How many things follow, each of at least a byte: never more than there are bytes. */
  count(): number {
    const value = this.varint();
    return value > this.#bytes.length - this.#at ? this.#fail() : value;
  }

  float64(): number {
    if (this.#at + 8 > this.#bytes.length) return this.#fail();
    const value = this.#view.getFloat64(this.#at, true);
    this.#at += 8;
    return value;
  }

  number(): number {
    const value = this.varint();
    if (value % 2 === 1) return this.float64();
    const folded = value / 2;
    return (folded % 2 === 1 ? -(folded + 1) / 2 : folded / 2) / 10;
  }

  text(): string {
    const units = Array.from({ length: this.count() }, () => this.varint());
    return units.map((unit) => String.fromCharCode(unit)).join('');
  }

  #fail(): 0 {
    this.#overran = true;
    this.#at = this.#bytes.length;
    return 0;
  }
}
