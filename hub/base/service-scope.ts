// What has been opened, closed again in reverse: when the program ends, and when a later step of opening fails.

/** Collects closings. Each is run once, the newest first; one that fails keeps none of the others from running. */
export class ServiceScope {
  #closings: (() => void | Promise<void>)[] = [];

  /** Takes `close` for when the scope closes. */
  onClose(close: () => void | Promise<void>): void {
    this.#closings.push(close);
  }

  /** Throws the first failure, after everything has been tried. */
  async close(): Promise<void> {
    const failures: unknown[] = [];
    for (const close of this.#closings.splice(0).toReversed()) {
      try {
        await close();
      } catch (error) {
        failures.push(error);
      }
    }
    if (failures.length > 0) throw failures[0];
  }

  /** Runs `open`; when it fails, closes everything opened so far and throws its failure. */
  static async opening<Opened>(open: (scope: ServiceScope) => Promise<Opened>): Promise<Opened> {
    const scope = new ServiceScope();
    try {
      return await open(scope);
    } catch (error) {
      // The failure that began it is the one to tell; one of closing would hide it.
      await scope.close().catch(() => undefined);
      throw error;
    }
  }
}
