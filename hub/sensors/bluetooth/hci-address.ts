// Where an adapter is reached when it is not the computer's own: parses the setting that names it.

import { type Said, said } from '../../../shared/said.ts';
import { failed, ok, type Result } from '../../../src/result.ts';

export type HciAddress =
  | { readonly kind: 'serial'; readonly path: string; readonly baudRate: number }
  | { readonly kind: 'tcp'; readonly host: string; readonly port: number }
  | { readonly kind: 'unix'; readonly path: string };

/** Radio boards with HCI firmware commonly come up at this rate. Common practice, no source. */
const defaultBaudRate = 1_000_000;

/**
 * A bare device name (`/dev/...` or `COM3`) is a serial port. Else understands `serial:PATH`, `serial:PATH@BAUD`, `tcp:HOST:PORT` and `unix:PATH`.
 * The reason names what is wrong and shows the forms.
 */
export function parseHciAddress(text: string): Result<HciAddress, Said> {
  const forms = said('radio.addressForms');
  const serial = /^(?:serial:|(?=\/)|(?=COM\d))([^@]+)(?:@(\d{3,8}))?$/.exec(text);
  if (serial !== null) {
    return ok({
      kind: 'serial',
      path: serial[1]!,
      baudRate: serial[2] === undefined ? defaultBaudRate : Number(serial[2]),
    });
  }
  const tcp = /^tcp:(\[[0-9a-fA-F:.]+\]|[^:]+):(\d{1,5})$/.exec(text);
  if (tcp !== null) {
    const port = Number(tcp[2]);
    if (port < 1 || port > 65_535) return failed(said('radio.noSuchPort', { port: String(port), forms }));
    return ok({ kind: 'tcp', host: tcp[1]!.replaceAll(/[[\]]/g, ''), port });
  }
  const unix = /^unix:(.+)$/.exec(text);
  if (unix !== null) return ok({ kind: 'unix', path: unix[1]! });
  return failed(said('radio.notAnAdapter', { text, forms }));
}
