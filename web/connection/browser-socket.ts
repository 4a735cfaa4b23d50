// The browser's WebSocket behind the connection's port.

import type { Socket, SocketListener } from './hub-connection.ts';

/** Opens `/ws` on the origin the page came from. */
export function openBrowserSocket(listener: SocketListener): Socket {
  const url = new URL('/ws', location.href);
  url.protocol = url.protocol === 'https:' ? 'wss:' : 'ws:';
  const socket = new WebSocket(url);
  socket.addEventListener('open', () => listener.opened());
  socket.binaryType = 'arraybuffer';
  socket.addEventListener('message', ({ data }) =>
    listener.received(data instanceof ArrayBuffer ? new Uint8Array(data) : String(data)),
  );
  socket.addEventListener('close', (event) => listener.closed(event.code));
  return {
    send: (text) => socket.send(text),
    close: () => socket.close(),
  };
}
