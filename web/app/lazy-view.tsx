// Views that load when they are first wanted, so that the live pages open light. All are fetched soon after the hub
// has answered, because a page that watches a hold must not need the hub to change its view.

import { signal } from '@preact/signals';
import type { ComponentType, FunctionComponent } from 'preact';
import { useApp } from './app-context.ts';

const loaders: (() => Promise<void>)[] = [];

/** A view in a file of its own. `load` imports it and picks the component. */
export function lazyView<Props extends object>(
  load: () => Promise<ComponentType<Props>>,
): FunctionComponent<Props> {
  const loaded = signal<ComponentType<Props> | null>(null);
  const failed = signal(false);
  let loading: Promise<void> | null = null;
  const fetchView = () => {
    loading ??= load().then(
      (component) => {
        loaded.value = component;
        failed.value = false;
      },
      () => {
        failed.value = true;
        loading = null;
      },
    );
    return loading;
  };
  loaders.push(fetchView);
  return function LazyView(props: Props) {
    const { text } = useApp();
    const View = loaded.value;
    if (View !== null) return <View {...props} />;
    if (failed.value) {
      return (
        <section class="sheet">
          <p class="notice notice--strong">
            {text.viewNotLoaded}
            <button
              type="button"
              class="button"
              onClick={() => {
                failed.value = false;
                void fetchView();
              }}
            >
              {text.recordings.again}
            </button>
          </p>
        </section>
      );
    }
    void fetchView();
    return (
      <section class="sheet">
        <p class="hint">{text.recordings.loading}</p>
      </section>
    );
  };
}

/** Fetches every view that has not been wanted yet, one after another. */
export async function loadRemainingViews(): Promise<void> {
  for (const fetchView of loaders) await fetchView();
}
