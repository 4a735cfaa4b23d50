// The colours of the charts, read from the style sheet's tokens so that light and dark have one source.

export interface ChartTheme {
  readonly ink: string;
  readonly faint: string;
  readonly grid: string;
  readonly surface: string;
  readonly spo2: string;
  readonly heartRate: string;
  readonly hold: string;
  readonly holdEdge: string;
  readonly watermark: string;
  readonly alarmHigh: string;
  readonly alarmMedium: string;
  readonly alarmLow: string;
}

export function readChartTheme(element: Element): ChartTheme {
  const style = getComputedStyle(element);
  const token = (name: string) => style.getPropertyValue(name).trim();
  return {
    ink: token('--ink'),
    faint: token('--ink-soft'),
    grid: token('--grid'),
    surface: token('--surface'),
    spo2: token('--trace-spo2'),
    heartRate: token('--trace-heart-rate'),
    hold: token('--hold-wash'),
    holdEdge: token('--hold-edge'),
    watermark: token('--watermark'),
    alarmHigh: token('--alarm-high'),
    alarmMedium: token('--alarm-medium'),
    alarmLow: token('--alarm-low'),
  };
}
