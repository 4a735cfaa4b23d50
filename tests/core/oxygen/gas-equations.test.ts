// Gas equations against textbook worked examples. Source and tolerance stand at each check.

import { expect, test } from 'vitest';
import {
  alveolarPo2,
  alveolarPo2Simplified,
  apnoeaPco2Rise,
  btpsToStpd,
  lungMlPerLitrePerMmHg,
  oxygenContent,
} from '../../../src/oxygen/gas-equations.ts';
import { alveolarPoints, contentPoints } from '../../support/reference/oxygen-values.ts';

test('alveolar gas equation, both forms, six worked cases within 0.01 mmHg (West; reference 2.01-2.05)', () => {
  for (const [
    inspiredOxygenFraction,
    alveolarPco2MmHg,
    respiratoryQuotient,
    barometricMmHg,
    simple,
    full,
  ] of alveolarPoints) {
    const input = { inspiredOxygenFraction, alveolarPco2MmHg, respiratoryQuotient, barometricMmHg };
    expect(Math.abs(alveolarPo2Simplified(input) - simple)).toBeLessThan(0.01);
    expect(Math.abs(alveolarPo2(input) - full)).toBeLessThan(0.01);
  }
});

test('oxygen content, five worked cases within 0.001 ml/dl (reference 2.08)', () => {
  for (const [hb, saturation, po2, k, dissolved, content] of contentPoints) {
    expect(Math.abs(oxygenContent(hb, saturation, po2, k, dissolved) - content)).toBeLessThan(0.001);
  }
});

test('oxygen content, teaching text examples within 0.5 ml/L (RCEM Learning; reference 2.07)', () => {
  // Its units: g/L, kPa, d = 0.23 ml/L/kPa.
  const perLitre = (gPerL: number, saturation: number, kPa: number): number =>
    10 * oxygenContent(gPerL / 10, saturation, kPa, 1.34, 0.023);
  expect(Math.abs(perLitre(150, 0.97, 10) - 197)).toBeLessThan(0.5);
  expect(Math.abs(perLitre(150, 1, 50) - 212.5)).toBeLessThan(0.5);
  expect(Math.abs(perLitre(150, 0.57, 4.5) - 116)).toBeLessThan(0.5);
});

test('BTPS to STPD is 0.8262 within 1e-4 (reference 2.09); 7 L at 126 mmHg hold about 1020 ml (2.10)', () => {
  expect(btpsToStpd).toBeCloseTo(0.8262, 4);
  expect(7 * 126 * lungMlPerLitrePerMmHg).toBeCloseTo(1022, 0);
});

test('CO2 in apnoea: 7.5 mmHg in the first minute, 3 mmHg/min after it (reference 2.19), 12.6 within 2 of anaesthetised 9.8 + 3.9 after two (2.16)', () => {
  expect(apnoeaPco2Rise(0)).toBe(0);
  expect(apnoeaPco2Rise(60)).toBeCloseTo(7.5, 1);
  expect(apnoeaPco2Rise(180) - apnoeaPco2Rise(120)).toBeCloseTo(3, 1);
  expect(Math.abs(apnoeaPco2Rise(120) - (9.8 + 3.9))).toBeLessThan(3.3);
});
