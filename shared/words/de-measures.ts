// Measures of holds and sessions in German: names, exact definitions, sources, and why one is not known.

import type { SaidWords } from './en.ts';
import type { Lacking, measureWordsInEnglish } from './en-measures.ts';

const fehlt = ({ count, all }: Lacking) => `ist für ${count} von ${all} Apnoen nicht bekannt.`;

export const measureWordsInGerman: Pick<SaidWords, keyof typeof measureWordsInEnglish> = {
  'measure.durationS': 'Dauer',
  'measure.durationS.is': 'Ende der Apnoe minus Beginn.',
  'measure.contractionCount': 'Markierte Kontraktionen',
  'measure.contractionCount.is':
    'Zahl der Kontraktionsmarken in der Apnoe; nicht bekannt, wenn keine gesetzt wurde.',
  'measure.timeToFirstContractionS': 'Zeit vor den Kontraktionen',
  'measure.timeToFirstContractionS.is': 'Erste Kontraktionsmarke minus Beginn der Apnoe (die leichte Phase).',
  'measure.timeAfterFirstContractionS': 'Zeit nach Beginn der Kontraktionen',
  'measure.timeAfterFirstContractionS.is': 'Ende der Apnoe minus erste Kontraktionsmarke (die Kampfphase).',
  'measure.shareBeforeContractionsPercent': 'Anteil vor den Kontraktionen',
  'measure.shareBeforeContractionsPercent.is': 'Zeit vor der ersten Kontraktionsmarke als Anteil der Dauer.',
  'measure.estimatedContractionOnsetS': 'Beginn der Kontraktionen, Schätzung',
  'measure.estimatedContractionOnsetS.is':
    'EINE SCHÄTZUNG, keine Marke: Zeit in der Apnoe, von der an die Herzfrequenz Schlag für Schlag (oder sonst die Grundlinie der Pulswelle) mit 2 bis 8 s Periode und mindestens dem 2,5-Fachen der früheren Stärke schwankt; nicht bekannt, wenn die Anzeichen das nicht tragen.',
  'measure.estimatedContractionOnsetUncertaintyS': 'Beginn der Kontraktionen, Schätzung: plus/minus',
  'measure.estimatedContractionOnsetUncertaintyS.is':
    'Halbe Spanne der fast ebenso wahrscheinlichen Anfänge (innerhalb von eins der Log-Likelihood).',
  'measure.estimatedContractionCount': 'Kontraktionen, Schätzung',
  'measure.estimatedContractionCount.is':
    'EINE SCHÄTZUNG, keine Marken: Gipfel dieser Schwankung ab ihrem Beginn, über der doppelten früheren Standardabweichung.',
  'measure.breathingRateBeforePerMin': 'Atemfrequenz davor',
  'measure.breathingRateBeforePerMin.is':
    'EINE SCHÄTZUNG: Frequenz des größten Rhythmus von 4 bis 36 /min in der Minute vor dem Beginn, in der Grundlinie der Pulswelle oder sonst in der Herzfrequenz Schlag für Schlag; nicht bekannt, wenn keiner hervortritt.',
  'measure.heartRateSwingBeforeBpm': 'Atemschwankung der Herzfrequenz davor',
  'measure.heartRateSwingBeforeBpm.is':
    'Spitze zu Tal dieses Rhythmus in der Herzfrequenz (respiratorische Sinusarrhythmie).',
  'measure.spo2AtStartPercent': 'SpO2 zu Beginn',
  'measure.spo2AtStartPercent.is': 'Median der brauchbaren Sättigung in den 15 s vor dem Beginn.',
  'measure.spo2LowestPercent': 'Tiefste SpO2',
  'measure.spo2LowestPercent.is':
    'Tiefste brauchbare Sättigung von 10 s nach dem Beginn bis 60 s nach dem Ende (oder 10 s in die nächste Apnoe), weil der Finger der Lunge nachhinkt.',
  'measure.spo2LowestAfterEndS': 'Zeit bis zur tiefsten SpO2, vom Ende an',
  'measure.spo2LowestAfterEndS.is':
    'Mitte der Zeit auf der tiefsten Sättigung minus das Ende der Apnoe; das Nachhinken dieses Athleten. Nicht bekannt, wenn der Abfall weniger als 2 % beträgt.',
  'measure.spo2FallRatePercentPerMin': 'Abfallrate der SpO2',
  'measure.spo2FallRatePercentPerMin.is':
    'Steigung nach kleinsten Quadraten der brauchbaren Sättigung vom letzten Wert innerhalb von 1 % des Anfangswerts bis zum tiefsten; positiv für einen Abfall; nicht bekannt unter 3 % Abfall.',
  'measure.spo2SteepestFallPercentPerMin': 'Steilste 30 s des SpO2-Abfalls',
  'measure.spo2SteepestFallPercentPerMin.is':
    'Größte Steigung nach kleinsten Quadraten der brauchbaren Sättigung über 30 s ab einem Messwert, zwischen dem Beginn und dem ersten tiefsten Wert; positiv für einen Abfall; nicht bekannt unter 3 % Abfall.',
  'measure.timeBelow95S': 'Zeit unter 95 %',
  'measure.timeBelow95S.is':
    'Zeit mit brauchbarer Sättigung unter 95 %, vom Beginn bis 60 s nach dem Ende (oder 10 s in die nächste Apnoe).',
  'measure.timeBelow90S': 'Zeit unter 90 %',
  'measure.timeBelow90S.is':
    'Zeit mit brauchbarer Sättigung unter 90 %, vom Beginn bis 60 s nach dem Ende (oder 10 s in die nächste Apnoe).',
  'measure.timeBelow85S': 'Zeit unter 85 %',
  'measure.timeBelow85S.is':
    'Zeit mit brauchbarer Sättigung unter 85 %, vom Beginn bis 60 s nach dem Ende (oder 10 s in die nächste Apnoe).',
  'measure.timeBelow80S': 'Zeit unter 80 %',
  'measure.timeBelow80S.is':
    'Zeit mit brauchbarer Sättigung unter 80 %, vom Beginn bis 60 s nach dem Ende (oder 10 s in die nächste Apnoe).',
  'measure.timeBelow75S': 'Zeit unter 75 %',
  'measure.timeBelow75S.is':
    'Zeit mit brauchbarer Sättigung unter 75 %, vom Beginn bis 60 s nach dem Ende (oder 10 s in die nächste Apnoe).',
  'measure.timeBelow70S': 'Zeit unter 70 %',
  'measure.timeBelow70S.is':
    'Zeit mit brauchbarer Sättigung unter 70 %, vom Beginn bis 60 s nach dem Ende (oder 10 s in die nächste Apnoe).',
  'measure.areaBelow95PercentS': 'Fläche unter 95 %',
  'measure.areaBelow95PercentS.is':
    'Integral von (95 % minus Sättigung), wo sie unter 95 % liegt, über dieselbe Zeit.',
  'measure.areaBelow90PercentS': 'Fläche unter 90 %',
  'measure.areaBelow90PercentS.is':
    'Integral von (90 % minus Sättigung), wo sie unter 90 % liegt, über dieselbe Zeit.',
  'measure.areaBelow85PercentS': 'Fläche unter 85 %',
  'measure.areaBelow85PercentS.is':
    'Integral von (85 % minus Sättigung), wo sie unter 85 % liegt, über dieselbe Zeit.',
  'measure.areaBelow80PercentS': 'Fläche unter 80 %',
  'measure.areaBelow80PercentS.is':
    'Integral von (80 % minus Sättigung), wo sie unter 80 % liegt, über dieselbe Zeit.',
  'measure.areaBelow75PercentS': 'Fläche unter 75 %',
  'measure.areaBelow75PercentS.is':
    'Integral von (75 % minus Sättigung), wo sie unter 75 % liegt, über dieselbe Zeit.',
  'measure.areaBelow70PercentS': 'Fläche unter 70 %',
  'measure.areaBelow70PercentS.is':
    'Integral von (70 % minus Sättigung), wo sie unter 70 % liegt, über dieselbe Zeit.',
  'measure.spo2BaselinePercent': 'Eigene Ruhe-SpO2',
  'measure.spo2BaselinePercent.is':
    'Median der brauchbaren Sättigung in den 60 s vor dem Beginn, nicht innerhalb von 60 s nach einer früheren Apnoe; bleiben weniger als 5 Werte, die der Apnoe davor.',
  'measure.spo2BackToBaselineS': 'Zeit bis zur eigenen Ruhe-SpO2, vom Ende an',
  'measure.spo2BackToBaselineS.is':
    'Erster brauchbarer Wert nach dem tiefsten, der bis auf 1 % an der eigenen Ruhesättigung liegt und 5 s dort bleibt, minus das Ende der Apnoe; gesucht bis 3 min nach dem Ende oder bis zur nächsten Apnoe.',
  'measure.spo2HalfTimeS': 'Halbwertszeit der SpO2',
  'measure.spo2HalfTimeS.is':
    'Vom tiefsten Wert bis zum ersten, der den halben Weg zurück zur eigenen Ruhesättigung geschafft hat und 5 s dort bleibt.',
  'measure.timeBackTo95S': 'Zeit bis SpO2 von 95 %, vom Ende an',
  'measure.timeBackTo95S.is':
    'Erster brauchbarer Wert von 95 % oder mehr nach dem tiefsten, minus das Ende der Apnoe; nicht bekannt, wenn die Sättigung nie unter 95 % lag.',
  'measure.heartRateRestBpm': 'Herzfrequenz in Ruhe',
  'measure.heartRateRestBpm.is':
    'Median der Herzfrequenz von 60 s bis 10 s vor dem Beginn, nicht innerhalb von 30 s nach einer früheren Apnoe.',
  'measure.heartRateLowestBpm': 'Tiefste Herzfrequenz',
  'measure.heartRateLowestBpm.is': 'Tiefstes 5-s-Mittel der Herzfrequenz in der Apnoe.',
  'measure.heartRateMeanBpm': 'Mittlere Herzfrequenz',
  'measure.heartRateMeanBpm.is': 'Zeitgewichtetes Mittel der Herzfrequenz in der Apnoe.',
  'measure.heartRateFallPercent': 'Abfall der Herzfrequenz',
  'measure.heartRateFallPercent.is': 'Ruhewert minus tiefste Herzfrequenz, als Anteil des Ruhewerts.',
  'measure.timeToLowestHeartRateS': 'Zeit bis zur tiefsten Herzfrequenz',
  'measure.timeToLowestHeartRateS.is': 'Mitte der tiefsten 5 s minus Beginn der Apnoe.',
  'measure.heartRateBackS': 'Zeit bis zur Ruhe-Herzfrequenz, vom Ende an',
  'measure.heartRateBackS.is':
    'Mitte der ersten 3 s nach dem Ende, deren Mittel mindestens 95 % des Ruhewerts erreicht, minus das Ende; gesucht bis 2 min nach dem Ende oder bis zur nächsten Apnoe. Nicht bekannt, wenn die letzten 5 s der Apnoe nicht darunter lagen.',
  'measure.heartRateHalfBackS': 'Zeit bis Herzfrequenz halb zurück, vom Ende an',
  'measure.heartRateHalfBackS.is':
    'Dasselbe für den halben Weg vom Mittel der letzten 5 s der Apnoe bis zum Ruhewert.',
  'measure.heartRateInitialPeakBpm': 'Gipfel der Herzfrequenz zu Beginn',
  'measure.heartRateInitialPeakBpm.is': 'Höchstes 3-s-Mittel der Herzfrequenz in den ersten 20 s der Apnoe.',
  'measure.heartRateInitialPeakS': 'Zeit bis zu diesem Gipfel',
  'measure.heartRateInitialPeakS.is': 'Mitte dieser 3 s minus Beginn der Apnoe.',
  'measure.heartRateHalfFallS': 'Zeit bis zum halben Abfall der Herzfrequenz',
  'measure.heartRateHalfFallS.is':
    'Der Abfall reicht vom Gipfel zu Beginn bis zum tiefsten 5-s-Mittel danach in den ersten 60 s, damit späteres Absinken nicht zählt. Mitte der ersten 3 s nach dem Gipfel, deren Mittel um die Hälfte davon gefallen ist, minus Beginn der Apnoe. Nicht bekannt bei Apnoen unter 30 s oder einem Abfall unter 5 %.',
  'measure.heartRateMostFallS': 'Zeit bis zu 90 % des Abfalls der Herzfrequenz',
  'measure.heartRateMostFallS.is': 'Dasselbe für 90 % dieses Abfalls.',
  'measure.rmssdBackS': 'Zeit bis RMSSD zurück, vom Ende an',
  'measure.rmssdBackS.is':
    'Mitte des ersten Fensters von 30 s (alle 5 s eines, ab dem Ende), dessen RMSSD mindestens 80 % des Ruhewerts beträgt, minus das Ende; gesucht bis 3 min nach dem Ende oder bis zur nächsten Apnoe. Nicht bekannt, wenn das erste Fenster nicht darunter lag.',
  'measure.rmssdHalfBackS': 'Zeit bis RMSSD halb zurück, vom Ende an',
  'measure.rmssdHalfBackS.is': 'Dasselbe für den halben Weg vom ersten Fenster bis zum RMSSD in Ruhe.',
  'measure.rmssdRestMs': 'RMSSD in Ruhe',
  'measure.rmssdRestMs.is':
    'Aus korrigierten Abständen von 130 s bis 10 s vor dem Beginn, mindestens 30 s davon, keiner innerhalb von 30 s nach einer früheren Apnoe.',
  'measure.sdnnRestMs': 'SDNN in Ruhe',
  'measure.sdnnRestMs.is':
    'Standardabweichung (N - 1) derselben Abstände. Kürzer als die 5 min, zu denen die Task Force rät.',
  'measure.rmssdRecoveryMs': 'RMSSD in der Erholung',
  'measure.rmssdRecoveryMs.is':
    'Aus korrigierten Abständen von 10 s bis 70 s nach dem Ende, mindestens 30 s davon.',
  'measure.sdnnRecoveryMs': 'SDNN in der Erholung',
  'measure.sdnnRecoveryMs.is': 'Standardabweichung (N - 1) derselben Abstände.',
  'measure.heartRateCoveragePercent': 'Herzfrequenz bekannt',
  'measure.heartRateCoveragePercent.is': 'Anteil der Sekunden der Apnoe mit brauchbarer Herzfrequenz.',
  'measure.spo2CoveragePercent': 'SpO2 bekannt',
  'measure.spo2CoveragePercent.is':
    'Anteil der Sekunden vom Beginn bis 30 s nach dem Ende mit einer brauchbaren Sättigung, die nicht älter als 5 s ist.',
  'sessionMeasure.holdCount': 'Apnoen',
  'sessionMeasure.holdCount.is': 'Zahl der beendeten Apnoen.',
  'sessionMeasure.totalHoldS': 'Zeit in Apnoe',
  'sessionMeasure.totalHoldS.is': 'Summe der Dauern.',
  'sessionMeasure.workToRecoveryRatio': 'Belastung zu Erholung',
  'sessionMeasure.workToRecoveryRatio.is':
    'Zeit in Apnoe ohne die letzte, geteilt durch die Atemzeit zwischen den Apnoen.',
  'sessionMeasure.durationTrendSPerHold': 'Trend der Dauer',
  'sessionMeasure.durationTrendSPerHold.is':
    'Median der Steigungen zwischen allen Paaren von Apnoen (Theil-Sen), Sekunden je Apnoe; ab drei Apnoen.',
  'sessionMeasure.lowestSpo2Percent': 'Tiefste SpO2',
  'sessionMeasure.lowestSpo2Percent.is': 'Tiefster Wert der tiefsten Sättigungen der Apnoen.',
  'sessionMeasure.medianLagS': 'Nachhinken des Fingers',
  'sessionMeasure.medianLagS.is': 'Median über die Apnoen der Zeit vom Ende bis zur tiefsten Sättigung.',
  'trend.durationS.is': 'Ende jeder Apnoe minus Beginn.',
  'trend.timeToFirstContractionS.is':
    'Erste Kontraktionsmarke minus Beginn der Apnoe. Nur wo eine gesetzt wurde.',
  'trend.spo2FallPercent.is': 'Sättigung zu Beginn minus der tiefste Wert, der zur Apnoe gehört.',
  'trend.spo2LowestAfterEndS.is':
    'Zeit vom Ende der Apnoe bis zum tiefsten Messwert: wie spät dieser Finger ist.',
  'trend.heartRateFallPercent.is': 'Ruhewert minus tiefste Herzfrequenz, als Anteil des Ruhewerts.',
  'trend.spo2BackToBaselineS.is':
    'Zeit vom Ende der Apnoe, bis die Sättigung bis auf 1 % am eigenen Ruhewert ist und dort bleibt.',
  'trend.spo2HalfTimeS.is':
    'Zeit vom tiefsten Wert der Sättigung, bis der halbe Weg zurück zum eigenen Ruhewert geschafft ist.',
  'trend.heartRateBackS.is':
    'Zeit vom Ende der Apnoe, bis die Herzfrequenz bis auf 5 % am eigenen Ruhewert ist.',
  'trend.heartRateHalfBackS.is':
    'Zeit vom Ende der Apnoe, bis die Herzfrequenz den halben Weg zurück zum eigenen Ruhewert geschafft hat.',

  'measure.why.noEnd': 'die Apnoe hat in dieser Aufzeichnung kein Ende',
  'measure.why.noSaturation': 'keine brauchbare Sättigung in dieser Apnoe',
  'measure.why.noSaturationBefore': 'keine brauchbare Sättigung in Ruhe vor dieser Apnoe',
  'measure.why.fewReadings': 'zu wenige Messwerte des Abfalls',
  'measure.why.smallFall': 'die Sättigung fiel um weniger als 2\u202f%',
  'measure.why.smallFallForRate': 'die Sättigung fiel um weniger als 3\u202f%',
  'measure.why.never95': 'die Sättigung war nie unter 95\u202f%',
  'measure.why.fallOverBeforeEnd': 'die Sättigung war vor dem Ende der Apnoe zurück',
  'measure.why.notBackBeforeNext': 'nicht zurück, bevor die nächste Apnoe begann',
  'measure.why.notBackInTime': 'Rückkehr in dieser Aufzeichnung nicht zu sehen',
  'measure.why.noHeartRate': 'keine brauchbare Herzfrequenz',
  'measure.why.noRest': 'zu wenig Ruhe vor dieser Apnoe',
  'measure.why.noRateFall': 'die Herzfrequenz fiel nicht um 5\u202f%',
  'measure.why.rateNotLower': 'die Herzfrequenz lag am Ende der Apnoe nicht unter dem Ruhewert',
  'measure.why.shortForResponse': 'die Apnoe ist kürzer als 30 s',
  'measure.why.noBeats': 'zu wenige Schlagabstände von den Sensoren',
  'measure.why.rmssdNotLower': 'RMSSD lag nach der Apnoe nicht unter dem Ruhewert',
  'measure.why.noMark': 'niemand hat eine Kontraktion markiert',
  'measure.why.weakEvidence': 'die Signale tragen keine Schätzung',
  'measure.why.noRhythm': 'in den Signalen tritt kein Atemrhythmus hervor',
  'sessionMeasure.lacks.lowestSpo2': (p) => `Die tiefste Sättigung ${fehlt(p)}`,
  'sessionMeasure.lacks.lowestHeartRate': (p) => `Die tiefste Herzfrequenz ${fehlt(p)}`,
  'sessionMeasure.lacks.variability': (p) => `Die Herzfrequenzvariabilität in Ruhe ${fehlt(p)}`,
  'sessionMeasure.lacks.onset': (p) => `Der Beginn der Kontraktionen (niemand hat eine markiert) ${fehlt(p)}`,
  'sessionMeasure.lacks.end': (p) => `Das Ende ${fehlt(p)}`,
  'source.citation': (p) => p.citation,
  'source.after': (p) => `nach ${p.citation}`,
  'source.ownMethod': 'eigenes Verfahren',
  'source.ownMethodUntested': 'eigenes Verfahren, nicht an Menschen geprüft',
  'source.ownMethodSimulated':
    'eigenes Verfahren, nicht an Menschen geprüft (npm run bench:accuracy: simuliert)',
  'source.fingerLagRows': 'Zeilen 3.23-3.27 der Referenzwerte',
  'gap.heartRateBpm': 'keine Herzfrequenz',
  'gap.rrIntervalMs': 'keine Schlagabstände',
  'gap.spo2Percent': 'keine Sättigung',
  'gap.pulseRateBpm': 'keine Pulsfrequenz',
  'gap.perfusionIndexPercent': 'kein Perfusionsindex',
  'gap.pleth': 'keine Pulswelle',
  'gap.respirationRaw': 'kein Atemsignal',
  'gap.hubDied': 'niemand hat überwacht: Der Hub war ohne Warnung zu Ende gegangen',
  'gap.hubStopped': 'niemand hat überwacht: Der Hub war angehalten worden',
  'gap.diskFault': 'niemand hat überwacht: Der Datenträger hatte versagt',
  'gap.slept': 'niemand hat überwacht: Der Rechner schlief',
  'gap.hubStalled': 'niemand hat überwacht: Der Hub stand still',
};
