// QR codes (ISO/IEC 18004) of a join address, for the page and for a terminal.

import { renderSVG, renderUnicodeCompact } from 'uqr';

/** As an SVG text, dark on light whatever the page's theme: many cameras do not read the inverse. */
export function qrSvg(address: string): string {
  return renderSVG(address, { ecc: 'M', border: 4, blackColor: '#000', whiteColor: '#fff' });
}

/** For a terminal: two rows of modules to a line, in white and black whatever the terminal's own colours. */
export function qrText(address: string): string {
  return renderUnicodeCompact(address, { ecc: 'L', border: 4 })
    .split('\n')
    .map((line) => `\u001b[97;40m${line}\u001b[0m`)
    .join('\n');
}
