// Writes files of make-corpus.py with libedf, an EDF library of others: the same numbers by formula.

#include <edflib.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

int main(int argc, char **argv) {
  const char *name = argv[2];
  int bdf = strstr(name, ".bdf") != NULL, wave = strstr(name, "wave") != NULL;
  int fraction = strstr(name, "fraction") != NULL;
  int rate = strstr(name, "100hz") != NULL ? 100 : wave ? 250 : 1;
  // A datarecord of 4 s holds 4 readings.
  int quarter = strstr(name, "quarter") != NULL;
  if (argc < 3) return 1;
  int signals = wave ? 1 : 2;
  int file = edfopen_file_writeonly(argv[1], bdf ? EDFLIB_FILETYPE_BDFPLUS : EDFLIB_FILETYPE_EDFPLUS, signals);
  if (file < 0) return 2;
  for (int i = 0; i < signals; i++) {
    int spo2 = i == 1;
    edf_set_samplefrequency(file, i, quarter ? 4 : rate);
    edf_set_label(file, i, wave ? "Pleth" : spo2 ? "SpO2" : "Heart rate");
    edf_set_physical_dimension(file, i, wave ? "mV" : spo2 ? (fraction ? "" : "%") : "bpm");
    edf_set_physical_maximum(file, i, wave ? 2 : spo2 ? (fraction ? 1 : 100) : 250);
    edf_set_physical_minimum(file, i, wave ? -2 : 0);
    edf_set_digital_maximum(file, i, wave ? 2000 : spo2 ? 1000 : 2500);
    edf_set_digital_minimum(file, i, wave ? -2000 : 0);
  }
  if (quarter) edf_set_datarecord_duration(file, 400000);
  edf_set_startdatetime(file, 2024, 5, 13, 21, 59, 50);
  int blocks = quarter ? 10 : 40, per = quarter ? 4 : 1;
  for (int block = 0; block < blocks; block++)
    for (int i = 0; i < signals; i++) {
      double values[1000];
      int count = quarter ? 4 : rate;
      for (int k = 0; k < count; k++) {
        int t = block * per + (quarter ? k : 0);
        double hr = 60 + (t * 7) % 23, spo2 = 98 - (t % 13) * 0.5;
        values[k] = wave ? ((block * 250 + k) % 1000 - 500) / 1000.0 * 2 : i == 1 ? (fraction ? spo2 / 100 + 1e-7 : spo2) : hr;
      }
      if (edfwrite_physical_samples(file, values) != 0) return 3;
    }
  edfwrite_annotation_latin1(file, 120000, 50000, "long breath");
  return edfclose_file(file);
}
