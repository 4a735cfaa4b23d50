// What may be wider than the window, such as a table: it scrolls by itself, by touch and by keyboard.

import type { ComponentChildren } from 'preact';

export interface ScrollRegionProps {
  readonly label: string;
  readonly class?: string;
  readonly children: ComponentChildren;
}

export function ScrollRegion({ label, class: name = 'table-scroll', children }: ScrollRegionProps) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard
    <section class={name} tabIndex={0} aria-label={label}>
      {children}
    </section>
  );
}
