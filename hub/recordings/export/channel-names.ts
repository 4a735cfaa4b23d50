// Names of channels and marks in files for other programs.

/** `spo2Percent` becomes `spo2_percent`. */
export const snakeName = (name: string): string =>
  name.replaceAll(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
