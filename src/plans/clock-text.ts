// Lengths of time as people write them on a plan: "2:05", "1:02:05".

/** `h:mm:ss` from one hour, else `m:ss`; rounded to the nearest second. */
export function clockText(durationMs: number): string {
  const total = Math.round(Math.abs(durationMs) / 1_000);
  const seconds = String(total % 60).padStart(2, '0');
  const minutes = Math.floor(total / 60);
  const sign = durationMs < 0 && total > 0 ? '-' : '';
  if (minutes < 60) return `${sign}${minutes}:${seconds}`;
  return `${sign}${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')}:${seconds}`;
}
