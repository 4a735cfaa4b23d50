// A network between two processes that a test can cut: a TCP proxy that passes bytes, or stops passing them without a word.

import { connect, createServer, type Server, type Socket } from 'node:net';

export class CutNetwork {
  readonly port: number;
  readonly #server: Server;
  readonly #sockets = new Set<Socket>();
  #isCut = false;

  private constructor(server: Server) {
    this.#server = server;
    this.port = (server.address() as { port: number }).port;
  }

  /** Listens on loopback and passes everything on to `port` there. */
  static async open(port: () => number): Promise<CutNetwork> {
    const sockets: { of?: CutNetwork } = {};
    const server = createServer((near) => {
      const network = sockets.of!;
      const far = connect(port(), '127.0.0.1');
      for (const [from, to] of [
        [near, far],
        [far, near],
      ] as const) {
        network.#sockets.add(from);
        from.on('data', (bytes) => {
          // As on a network that is gone: no end, no error, nothing.
          if (!network.#isCut) to.write(bytes);
        });
        from.on('error', () => to.destroy());
        from.on('close', () => {
          network.#sockets.delete(from);
          to.destroy();
        });
      }
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    sockets.of = new CutNetwork(server);
    return sockets.of;
  }

  /** Nothing passes from now on. */
  cut(): void {
    this.#isCut = true;
  }

  /** What was on its way in the cut is lost, as are its connections; new ones are made. */
  mend(): void {
    for (const socket of this.#sockets) socket.destroy();
    this.#isCut = false;
  }

  close(): void {
    for (const socket of this.#sockets) socket.destroy();
    this.#server.close();
  }
}
