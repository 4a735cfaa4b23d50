// The Bluetooth libraries by the names that settings have for them.

export const radioLibraries = { noble: '@abandonware/noble', stoprocent: '@stoprocent/noble' } as const;
