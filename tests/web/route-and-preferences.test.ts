import { expect, test } from 'vitest';
import { isPagePath, matchPath, pagePaths } from '../../shared/page-paths.ts';
import { Preferences } from '../../web/state/preferences.ts';

test('addresses are matched part by part', () => {
  expect(matchPath('/recordings/:sessionId', '/recordings/s-1')).toEqual({ sessionId: 's-1' });
  expect(matchPath('/recordings/:sessionId', '/recordings')).toBeNull();
  expect(matchPath('/', '/')).toEqual({});
  expect(matchPath('/live/:athleteId', '/live/a%20b')).toEqual({ athleteId: 'a b' });
  expect(matchPath('/live/:athleteId', '/live/%E0%A4%A')).toBeNull();
});

test('preferences are kept and damaged ones ignored', () => {
  const store = new Map<string, string>();
  const storage = {
    getItem: (key: string) => store.get(key) ?? null,
    setItem: (key: string, value: string) => void store.set(key, value),
  };
  const first = new Preferences(storage);
  first.theme.value = 'light';
  first.wallOrder.value = ['a'];
  first.spokenAlarms.value = 'places';
  const second = new Preferences(storage);
  expect(second.theme.value).toBe('light');
  expect(second.wallOrder.value).toEqual(['a']);
  expect(second.spokenAlarms.value).toBe('places');
  for (const damaged of ['{', 'null', '[]', '{"theme":7,"wallOrder":[1,"b"]}']) {
    const key = [...store.keys()][0]!;
    store.set(key, damaged);
    expect(new Preferences(storage).theme.value).toBe('system');
  }
});

test('the hub knows which addresses are views, and which are none', () => {
  for (const pattern of pagePaths) expect(isPagePath(pattern.replaceAll(/:\w+/g, 'a-1'))).toBe(true);
  for (const path of ['/wp-login.php', '/live/a/b', '/recordings/a/b/c', '/live/%E0%A4%A'])
    expect(isPagePath(path)).toBe(false);
});
