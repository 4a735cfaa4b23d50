// Textbook gas equations: alveolar gas, oxygen content of blood, rise of carbon dioxide in apnoea, volumes.
// Pressures mmHg, contents ml/dl, haemoglobin g/dl, saturations fractions.

/** Water vapour pressure at 37 C. */
const waterVapourMmHg = 47;
/** Oxygen in dry air. */
export const oxygenFractionOfAir = 0.2093;
/** From body temperature, ambient pressure, saturated to standard, dry: 273.15/310.15 * 713/760. */
export const btpsToStpd = (273.15 / 310.15) * ((760 - waterVapourMmHg) / 760);
/** Oxygen (ml STPD) in one litre BTPS of gas per mmHg of its pressure: 1000 * btpsToStpd / 713. */
export const lungMlPerLitrePerMmHg = (1000 * btpsToStpd) / (760 - waterVapourMmHg);

export interface AlveolarGasInput {
  readonly inspiredOxygenFraction: number;
  readonly barometricMmHg: number;
  readonly alveolarPco2MmHg: number;
  readonly respiratoryQuotient: number;
}

/** Alveolar PO2, full form. Source: West JB, Respiratory Physiology: The Essentials. */
export function alveolarPo2(input: AlveolarGasInput): number {
  const f = input.inspiredOxygenFraction;
  return (
    f * (input.barometricMmHg - waterVapourMmHg) -
    input.alveolarPco2MmHg * (f + (1 - f) / input.respiratoryQuotient)
  );
}

/** Alveolar PO2, simplified form (about 2 mmHg low on air). Same source. */
export function alveolarPo2Simplified(input: AlveolarGasInput): number {
  return (
    input.inspiredOxygenFraction * (input.barometricMmHg - waterVapourMmHg) -
    input.alveolarPco2MmHg / input.respiratoryQuotient
  );
}

/** ml of oxygen that 1 g of haemoglobin binds; 1.34 to 1.39 in the literature (reference 2.06). */
export const huefnerMlPerGram = 1.34;
/** Dissolved oxygen, ml/dl per mmHg (reference 2.06). */
export const dissolvedMlPerDlPerMmHg = 0.003;

/** Oxygen content of blood, ml/dl. */
export function oxygenContent(
  haemoglobinGPerDl: number,
  saturation: number,
  po2MmHg: number,
  bindingMlPerGram: number = huefnerMlPerGram,
  dissolved: number = dissolvedMlPerDlPerMmHg,
): number {
  return bindingMlPerGram * haemoglobinGPerDl * saturation + dissolved * po2MmHg;
}

/**
 * Rise of arterial PCO2 (mmHg) after so many seconds of apnoea from normal, resting.
 * First the mixed venous level is reached, then body stores fill: 7.5 mmHg in the first minute and 3 mmHg/min
 * after it (reference 2.19, textbook). Anaesthetised measurements: 9.8 +/- 1.9, then 3.4-4.4 /min (2.16).
 */
export function apnoeaPco2Rise(seconds: number): number {
  if (seconds <= 0) return 0;
  const slopePerSecond = 3 / 60;
  // An exponential approach (time constant 15 s, our choice between the 7 mmHg in 10 s on oxygen at FRC of
  // reference 2.15 and the slower full lung) that reaches 7.5 - 3 = 4.5 mmHg beyond the slope.
  const early = 4.5 / (1 - Math.exp(-60 / 15));
  return slopePerSecond * seconds + early * (1 - Math.exp(-seconds / 15));
}

/** Change of pH for an acute change of PCO2 at constant base: about 0.008 per mmHg (from memory; reference 2.20: 10.2 mmHg gave 0.07). */
export const phPerPco2MmHg = -0.007;
