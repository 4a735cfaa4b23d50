// A person's name by itself: written in its own direction, so that it turns nothing beside it round, and broken where it is
// longer than its place.

import './name.css';

export function Name({ children }: { readonly children: string }) {
  return <bdi class="name">{children}</bdi>;
}
