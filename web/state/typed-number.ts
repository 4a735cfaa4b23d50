// Numbers and lengths of time as people type them. Pure: undefined for what is neither.

/** "1:35" and "1:02:05"; "95" and "95 s" are seconds, "2 min" minutes. */
export function readSeconds(text: string): number | undefined {
  const plain = text.trim().toLocaleLowerCase();
  const clock = /^(\d{1,3}):([0-5]?\d)(?:\s*min)?$/.exec(plain);
  if (clock !== null) return Number(clock[1]) * 60 + Number(clock[2]);
  const hours = /^(\d{1,2}):([0-5]\d):([0-5]\d)$/.exec(plain);
  if (hours !== null) return Number(hours[1]) * 3_600 + Number(hours[2]) * 60 + Number(hours[3]);
  const minutes = /^(\d{1,3})\s*(?:min|')$/.exec(plain);
  if (minutes !== null) return Number(minutes[1]) * 60;
  const seconds = /^(\d{1,5})\s*(?:s|")?$/.exec(plain);
  return seconds === null ? undefined : Number(seconds[1]);
}

/** With a point or a comma for decimals, and thirds as "16 2/3", "16⅔" or "16.67". */
export function readNumber(text: string): number | undefined {
  const plain = text
    .trim()
    .replace('\u2153', ' 1/3')
    .replace('\u2154', ' 2/3')
    .replace('\u00bd', ' 1/2')
    .replace(',', '.');
  const parts = /^(\d{1,6}(?:\.\d{1,6})?)?(?:\s*(\d{1,3})\/(\d{1,3}))?$/.exec(plain);
  if (parts === null || plain === '') return undefined;
  const [, whole, over, under] = parts;
  // "2/3" alone: the pattern has taken nothing as whole.
  const fraction = over === undefined ? 0 : Number(under) === 0 ? Number.NaN : Number(over) / Number(under);
  const value = Number(whole ?? 0) + fraction;
  return Number.isFinite(value) ? value : undefined;
}
