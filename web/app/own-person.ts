// The hub's own person: the code of the link from the hub's terminal, taken out of the address and traded for a cookie.

const mark = '#own=';

/** The code of an address or of a link as it was copied; undefined without one. */
export function ownCodeOf(text: string): string | undefined {
  const at = text.indexOf(mark);
  const code = at === -1 ? '' : text.slice(at + mark.length).trim();
  return code === '' ? undefined : code;
}

/** The same of this page's address, which then shows it no more. */
export function takeOwnCode(): string | undefined {
  const code = ownCodeOf(location.hash);
  if (code !== undefined) history.replaceState(history.state, '', location.pathname + location.search);
  return code;
}
