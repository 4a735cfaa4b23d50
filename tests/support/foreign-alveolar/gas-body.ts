// A body as gas stores: lungs, blood and tissues exchanging oxygen and carbon dioxide breath by breath, with airways open
// or shut. Numbers by published-values (shared/reference) unless said; no knowledge of how holds are detected.

/** Fixed for a person. */
export interface GasPerson {
  readonly totalLungL: number;
  readonly residualL: number;
  readonly restingL: number;
  readonly deadSpaceMl: number;
  readonly haemoglobinGPerDl: number;
  readonly venousStoreL: number;
  /** STPD at rest, lying. */
  readonly oxygenUseMlPerMin: number;
  readonly outputLPerMin: number;
  /** Share of the output that passes no air. */
  readonly shunt: number;
  /** Fraction by which oxygen use falls in a long hold. */
  readonly saving: number;
}

export interface GasState {
  oxygenMl: number;
  carbonDioxideMl: number;
  nitrogenMl: number;
  /** Alveolar gas left in the airways, breathed in first. */
  stalemateMl: number;
  venousO2MlPerL: number;
  venousPco2: number;
  arterialSaturation: number;
  arterialPco2: number;
}

/** Dry gas of one litre at body temperature, in ml STPD (reference 2.09). */
const stpdMlPerL = 826.2;
/** Barometric less water vapour pressure, mmHg (2.02). */
const dryPressure = 713;
/** Rise of CO2 content of blood with tension, ml/l/mmHg, Haldane effect lumped in (our fit to 2.15 to 2.19). */
const co2SlopeMlPerLPerMmHg = 6;
/** Fast tissue store of CO2, ml/mmHg: rises of 3 to 4 mmHg/min at 200 ml/min (2.16, 2.18). */
const co2StoreMlPerMmHg = 55;

/** Severinghaus 1979 Eq 1 (1.01) with the classical Bohr shift (1.06); pH from PCO2 by 0.006 per mmHg (from memory). */
export function saturationAt(po2: number, pco2: number): number {
  const ph = 7.4 - 0.006 * (pco2 - 40);
  const p = Math.max(0.5, po2) * 10 ** (0.48 * (ph - 7.4));
  return 1 / (23_400 / (p ** 3 + 150 * p) + 1);
}

/** Content of blood, ml/l (2.06). */
const contentAt = (person: GasPerson, po2: number, pco2: number): number =>
  13.4 * person.haemoglobinGPerDl * saturationAt(po2, pco2) + 0.03 * po2;

/** Someone who has breathed quietly for long: alveolar gas by 2.03. */
export function restedGas(person: GasPerson): GasState {
  const total = person.restingL * stpdMlPerL;
  const alveolarO2 = 101 / dryPressure;
  const alveolarCo2 = 40 / dryPressure;
  return {
    oxygenMl: total * alveolarO2,
    carbonDioxideMl: total * alveolarCo2,
    nitrogenMl: total * (1 - alveolarO2 - alveolarCo2),
    stalemateMl: person.deadSpaceMl,
    venousO2MlPerL: contentAt(person, 96, 40) - person.oxygenUseMlPerMin / person.outputLPerMin,
    venousPco2: 46,
    arterialSaturation: 0.975,
    arterialPco2: 40,
  };
}

/**
 * Moves the stores on by `dtS`. `volumeL` is what the chest imposes with the airway open; undefined with it shut, when
 * the lungs shrink by what the blood takes. `effort` multiplies oxygen use; `outputRatio` the resting output.
 */
export function stepGas(
  gas: GasState,
  person: GasPerson,
  volumeL: number | undefined,
  effort: number,
  outputRatio: number,
  dtS: number,
): void {
  const minutes = dtS / 60;
  const total = gas.oxygenMl + gas.carbonDioxideMl + gas.nitrogenMl;
  const po2 = (dryPressure * gas.oxygenMl) / total;
  const pco2 = (dryPressure * gas.carbonDioxideMl) / total;
  const output = person.outputLPerMin * outputRatio;
  const oxygenUse = person.oxygenUseMlPerMin * effort;

  // End-capillary blood meets alveolar gas less a small difference; the shunt joins it unoxygenated.
  const endCapillary = contentAt(person, po2 - 4, pco2);
  const arterial = (1 - person.shunt) * endCapillary + person.shunt * gas.venousO2MlPerL;
  const uptake = output * (arterial - gas.venousO2MlPerL) * minutes;
  gas.oxygenMl = Math.max(1, gas.oxygenMl - uptake);
  gas.venousO2MlPerL = Math.max(
    10,
    gas.venousO2MlPerL +
      (output * (arterial - gas.venousO2MlPerL) - oxygenUse) * (minutes / person.venousStoreL),
  );
  gas.arterialSaturation = Math.min(
    1,
    Math.max(0.02, (arterial - 0.03 * po2) / (13.4 * person.haemoglobinGPerDl)),
  );

  const released = output * co2SlopeMlPerLPerMmHg * (gas.venousPco2 - pco2) * minutes;
  gas.carbonDioxideMl = Math.max(1, gas.carbonDioxideMl + released);
  gas.venousPco2 += (0.8 * oxygenUse * minutes - released) / co2StoreMlPerMmHg;
  gas.arterialPco2 = pco2;

  if (volumeL === undefined) return;
  const now = gas.oxygenMl + gas.carbonDioxideMl + gas.nitrogenMl;
  const flow = volumeL * stpdMlPerL - now;
  if (flow < 0) {
    const left = (now + flow) / now;
    gas.oxygenMl *= left;
    gas.carbonDioxideMl *= left;
    gas.nitrogenMl *= left;
    gas.stalemateMl = Math.min(person.deadSpaceMl, gas.stalemateMl - flow);
    return;
  }
  const stale = Math.min(flow, gas.stalemateMl);
  gas.stalemateMl -= stale;
  const fresh = flow - stale;
  gas.oxygenMl += (stale * gas.oxygenMl) / now + 0.2093 * fresh;
  gas.carbonDioxideMl += (stale * gas.carbonDioxideMl) / now;
  gas.nitrogenMl += (stale * gas.nitrogenMl) / now + 0.7907 * fresh;
}
