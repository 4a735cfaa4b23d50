/* Reads an EDF+ file with libedf, a program of other authors, and prints what it understood as JSON. */
#include <edflib.h>
#include <stdio.h>
#include <stdlib.h>

static void text(const char *s) {
  putchar('"');
  for (; *s; s++) {
    unsigned char c = (unsigned char)*s;
    if (c == '"' || c == '\\') printf("\\%c", c);
    else if (c < 32) printf("\\u%04x", c);
    else putchar(c);
  }
  putchar('"');
}

int main(int argc, char **argv) {
  static struct edf_hdr_struct h;
  if (argc < 2) return 2;
  if (edfopen_file_readonly(argv[1], &h, EDFLIB_READ_ALL_ANNOTATIONS)) {
    printf("{\"error\":%d}\n", h.filetype);
    return 1;
  }
  printf("{\"filetype\":%d,\"start\":[%d,%d,%d,%d,%d,%d],\"subsecond\":%lld,\"duration\":%lld,\"patient\":",
         h.filetype, h.startdate_year, h.startdate_month, h.startdate_day, h.starttime_hour,
         h.starttime_minute, h.starttime_second, h.starttime_subsecond, h.file_duration);
  text(h.patient_name);
  printf(",\"equipment\":");
  text(h.equipment);
  printf(",\"more\":");
  text(h.recording_additional);
  printf(",\"signals\":[");
  for (int i = 0; i < h.edfsignals; i++) {
    struct edf_param_struct *p = &h.signalparam[i];
    printf("%s{\"label\":", i ? "," : "");
    text(p->label);
    printf(",\"unit\":");
    text(p->physdimension);
    printf(",\"perRecord\":%d,\"values\":[", p->smp_in_datarecord);
    double *v = malloc(sizeof(double) * (size_t)p->smp_in_file);
    int n = edfread_physical_samples(h.handle, i, (int)p->smp_in_file, v);
    for (int k = 0; k < n; k++) printf("%s%.17g", k ? "," : "", v[k]);
    free(v);
    printf("]}");
  }
  printf("],\"annotations\":[");
  for (int k = 0; k < h.annotations_in_file; k++) {
    struct edf_annotation_struct a;
    edf_get_annotation(h.handle, k, &a);
    printf("%s{\"onset\":%lld,\"duration\":%lld,\"text\":", k ? "," : "", a.onset, a.duration_l);
    text(a.annotation);
    putchar('}');
  }
  printf("]}\n");
  edfclose_file(h.handle);
  return 0;
}
