// The browser's WebSocket behind the connection's port.

import type { Socket, SocketListener } from './hub-connection.ts';

/** Opens `/ws` on the origin the page came from; at a school, to look at the room of a hub. */
export function openBrowserSocket(listener: SocketListener, room?: string): Socket {
  const url = new URL(room === undefined ? '/ws' : `/ws?room=${encodeURIComponent(room)}`, location.href);
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
