/* Put before the C library (LD_PRELOAD): counts what a process writes to one folder, and makes the disk under it slow, full,
 * failing, or the process die, as the test asks. Everything outside the folder is left alone.
 *
 * DISK_FAULT_FOLDER   the folder, whole path
 * DISK_FAULT_AT       the call that is hit, from 1; 0 or missing: none
 * DISK_FAULT_DO       eio | enospc | erofs | short | kill: what happens at it
 * DISK_FAULT_LASTS    if set, also at every call after it (not for short and kill)
 * DISK_FAULT_LOG      a file that gets a line for each call: number, name of the call, name of the file
 * DISK_FAULT_CONTROL  a file read at each call: "slow MS" (syncs), "eio", "enospc" or "erofs" (writes and syncs), or empty
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static long count;

enum verdict { GO, FAIL, SHORT };

static void *real(const char *name) { return dlsym(RTLD_NEXT, name); }

static const char *in_folder(const char *path) {
  const char *folder = getenv("DISK_FAULT_FOLDER");
  if (folder == NULL) return NULL;
  size_t length = strlen(folder);
  if (strncmp(path, folder, length) != 0 || path[length] != '/') return NULL;
  return path + length + 1;
}

static const char *name_of(int fd, char *path) {
  char link[64];
  snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
  ssize_t length = readlink(link, path, PATH_MAX - 1);
  if (length < 0) return NULL;
  path[length] = 0;
  return in_folder(path);
}

static void control(char *text, size_t size) {
  text[0] = 0;
  const char *path = getenv("DISK_FAULT_CONTROL");
  if (path == NULL) return;
  FILE *file = fopen(path, "re");
  if (file == NULL) return;
  if (fgets(text, (int)size, file) == NULL) text[0] = 0;
  fclose(file);
}

/* Decides about one call; sets errno for one that fails. */
static enum verdict decide(const char *call, const char *name, int is_sync) {
  if (name == NULL) return GO;
  pthread_mutex_lock(&lock);
  long number = ++count;
  const char *log = getenv("DISK_FAULT_LOG");
  if (log != NULL) {
    FILE *file = fopen(log, "ae");
    if (file != NULL) {
      fprintf(file, "%ld %s %s\n", number, call, name);
      fclose(file);
    }
  }
  pthread_mutex_unlock(&lock);

  char asked[64];
  control(asked, sizeof asked);
  long slow;
  if (is_sync && sscanf(asked, "slow %ld", &slow) == 1) {
    struct timespec wait = {slow / 1000, (slow % 1000) * 1000000L};
    nanosleep(&wait, NULL);
  }
  if (strncmp(asked, "eio", 3) == 0) { errno = EIO; return FAIL; }
  if (strncmp(asked, "enospc", 6) == 0) { errno = ENOSPC; return FAIL; }
  if (strncmp(asked, "erofs", 5) == 0) { errno = EROFS; return FAIL; }

  const char *at = getenv("DISK_FAULT_AT");
  const char *act = getenv("DISK_FAULT_DO");
  long hit = at == NULL ? 0 : atol(at);
  if (hit == 0 || act == NULL || number < hit) return GO;
  if (number > hit && getenv("DISK_FAULT_LASTS") == NULL) return GO;
  if (strcmp(act, "kill") == 0 && number == hit) { kill(getpid(), SIGKILL); for (;;) pause(); }
  if (strcmp(act, "short") == 0) return number == hit ? SHORT : GO;
  errno = strcmp(act, "enospc") == 0 ? ENOSPC : strcmp(act, "erofs") == 0 ? EROFS : EIO;
  return FAIL;
}

ssize_t write(int fd, const void *bytes, size_t length) {
  ssize_t (*next)(int, const void *, size_t) = real("write");
  char path[PATH_MAX];
  enum verdict verdict = decide("write", name_of(fd, path), 0);
  if (verdict == FAIL) return -1;
  return next(fd, bytes, verdict == SHORT ? length / 2 : length);
}

static ssize_t write_at(const char *symbol, int fd, const void *bytes, size_t length, off_t offset) {
  ssize_t (*next)(int, const void *, size_t, off_t) = real(symbol);
  char path[PATH_MAX];
  enum verdict verdict = decide("pwrite", name_of(fd, path), 0);
  if (verdict == FAIL) return -1;
  return next(fd, bytes, verdict == SHORT ? length / 2 : length, offset);
}
ssize_t pwrite(int fd, const void *bytes, size_t length, off_t offset) {
  return write_at("pwrite", fd, bytes, length, offset);
}
ssize_t pwrite64(int fd, const void *bytes, size_t length, off_t offset) {
  return write_at("pwrite64", fd, bytes, length, offset);
}

#define ON_FD(symbol, is_sync, parameters, arguments)                                 \
  int symbol parameters {                                                             \
    int(*next) parameters = real(#symbol);                                            \
    char path[PATH_MAX];                                                              \
    return decide(#symbol, name_of(fd, path), is_sync) == FAIL ? -1 : next arguments; \
  }
ON_FD(fsync, 1, (int fd), (fd))
ON_FD(fdatasync, 1, (int fd), (fd))
ON_FD(ftruncate, 0, (int fd, off_t length), (fd, length))
ON_FD(ftruncate64, 0, (int fd, off_t length), (fd, length))
ON_FD(fallocate, 0, (int fd, int mode, off_t offset, off_t length), (fd, mode, offset, length))

#define ON_PATH(symbol, parameters, arguments)                            \
  int symbol parameters {                                                 \
    int(*next) parameters = real(#symbol);                                \
    return decide(#symbol, in_folder(path), 0) == FAIL ? -1 : next arguments; \
  }
/* A medium that is read-only says so to whoever asks before writing. No write: not counted. */
int access(const char *path, int mode) {
  int (*next)(const char *, int) = real("access");
  if ((mode & W_OK) != 0 && in_folder(path) != NULL) {
    char asked[64];
    control(asked, sizeof asked);
    if (strncmp(asked, "erofs", 5) == 0) { errno = EROFS; return -1; }
  }
  return next(path, mode);
}

ON_PATH(rename, (const char *path, const char *to), (path, to))
ON_PATH(link, (const char *path, const char *to), (path, to))
ON_PATH(unlink, (const char *path), (path))
