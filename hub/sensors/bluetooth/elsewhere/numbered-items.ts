// Items that reach the other end once and in order, over connections that break: each has a number, is kept until it was
// heard, and is sent again on the next connection; one that was heard before is passed over.

export interface OutboxLimits {
  /** To a message. */
  readonly mostItems: number;
  readonly mostBytes: number;
  /** On their way and not heard of. */
  readonly mostUnheard: number;
}

/** The sending end. */
export class NumberedOutbox<Item> {
  /** Kept, oldest first: the first is number `#heard + 1`. */
  #items: { readonly item: Item; readonly bytes: number }[] = [];
  #heard = 0;
  #sent = 0;
  #bytes = 0;

  get length(): number {
    return this.#items.length;
  }

  /** What is kept takes about so many bytes. */
  get bytes(): number {
    return this.#bytes;
  }

  /** `bytes`: what it takes, here and in a message. */
  push(item: Item, bytes: number): void {
    this.#items.push({ item, bytes });
    this.#bytes += bytes;
  }

  /** The other end has heard everything up to this number. Numbers of the past and of the future change nothing. */
  heard(upTo: number): void {
    if (!(upTo > this.#heard && upTo <= this.#heard + this.#items.length)) return;
    for (const { bytes } of this.#items.splice(0, upTo - this.#heard)) this.#bytes -= bytes;
    this.#heard = upTo;
    this.#sent = Math.max(this.#sent, upTo);
  }

  /** A new connection: what was not heard is sent again. */
  again(): void {
    this.#sent = this.#heard;
  }

  /** The next to be sent, as many as fit into a message; null where there is nothing, or too much on its way. */
  next({ mostItems, mostBytes, mostUnheard }: OutboxLimits): {
    readonly first: number;
    readonly items: readonly Item[];
  } | null {
    const from = this.#sent - this.#heard;
    const most = Math.min(this.#items.length, from + mostItems, mostUnheard);
    let to = from;
    let bytes = 0;
    while (to < most && (to === from || bytes + this.#items[to]!.bytes <= mostBytes)) {
      bytes += this.#items[to]!.bytes;
      to += 1;
    }
    if (to === from) return null;
    const first = this.#sent + 1;
    this.#sent += to - from;
    return { first, items: this.#items.slice(from, to).map(({ item }) => item) };
  }

  /** Forgets everything; numbers begin at 1. */
  clear(): void {
    this.#items = [];
    this.#heard = 0;
    this.#sent = 0;
    this.#bytes = 0;
  }
}

/** The hearing end. */
export class NumberedInbox {
  #heard = 0;

  get heard(): number {
    return this.#heard;
  }

  /** Those not heard before; null where there is a hole, which no honest end leaves. */
  take<Item>(first: number, items: readonly Item[]): readonly Item[] | null {
    if (first > this.#heard + 1 || first < 1) return null;
    const fresh = items.slice(this.#heard + 1 - first);
    this.#heard = Math.max(this.#heard, first + items.length - 1);
    return fresh;
  }

  clear(): void {
    this.#heard = 0;
  }
}
