/* Writes a small EDF+ recording with libedf, a program of other authors: saturation at 1 Hz, pulse at 1 Hz and a
   fast wave, with two annotations. The numbers are a formula, no person's. */
#include <edflib.h>
#include <math.h>

int main(int argc, char **argv) {
  if (argc < 2) return 2;
  int h = edfopen_file_writeonly(argv[1], EDFLIB_FILETYPE_EDFPLUS, 3);
  if (h < 0) return 1;
  const char *labels[3] = {"SpO2", "Pulse", "Resp"};
  const char *units[3] = {"%", "bpm", "mV"};
  const int rates[3] = {1, 1, 25};
  const double greatest[3] = {102.3, 255, 5};
  const double least[3] = {0, 0, -5};
  const int digitalGreatest[3] = {1023, 255, 2047};
  const int digitalLeast[3] = {0, 0, -2048};
  for (int i = 0; i < 3; i++) {
    edf_set_label(h, i, labels[i]);
    edf_set_physical_dimension(h, i, units[i]);
    edf_set_samplefrequency(h, i, rates[i]);
    edf_set_physical_maximum(h, i, greatest[i]);
    edf_set_physical_minimum(h, i, least[i]);
    edf_set_digital_maximum(h, i, digitalGreatest[i]);
    edf_set_digital_minimum(h, i, digitalLeast[i]);
  }
  edf_set_startdatetime(h, 2024, 3, 9, 18, 30, 5);
  edf_set_patientname(h, "Invented Person");
  edf_set_equipment(h, "libedf");
  for (int second = 0; second < 120; second++) {
    int spo2 = second < 5 ? 0 : second < 60 ? 980 - second : 920 + (second - 60) / 2;
    int pulse = 60 + (second % 7);
    double wave[25];
    for (int k = 0; k < 25; k++) wave[k] = 2 * sin((second * 25 + k) / 12.0);
    edfwrite_digital_samples(h, &spo2);
    edfwrite_digital_samples(h, &pulse);
    edfwrite_physical_samples(h, wave);
  }
  edfwrite_annotation_latin1(h, 100000, 400000, "apnea start");
  edfwrite_annotation_latin1(h, 600000, -1, "recovery");
  edfclose_file(h);
  return 0;
}
