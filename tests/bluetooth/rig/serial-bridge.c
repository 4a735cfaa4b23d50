/* Makes a virtual controller look like a radio board on a serial port: a pseudo terminal whose far end is the
 * emulator's unix socket. Prints the terminal's name and relays until either end closes. Usage: serial-bridge SOCKET */
#define _GNU_SOURCE
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <termios.h>
#include <unistd.h>

static int relay(int from, int to) {
  char bytes[4096];
  ssize_t count = read(from, bytes, sizeof bytes);
  if (count <= 0) return 0;
  for (ssize_t done = 0; done < count;) {
    ssize_t written = write(to, bytes + done, count - done);
    if (written <= 0) return 0;
    done += written;
  }
  return 1;
}

int main(int argc, char **argv) {
  if (argc != 2) return 2;
  int terminal = posix_openpt(O_RDWR | O_NOCTTY);
  if (terminal < 0 || grantpt(terminal) || unlockpt(terminal)) return 3;
  struct termios raw;
  tcgetattr(terminal, &raw);
  cfmakeraw(&raw);
  tcsetattr(terminal, TCSANOW, &raw);
  /* Held open here too, so that the far end's opening and closing does not end the terminal. */
  int held = open(ptsname(terminal), O_RDWR | O_NOCTTY);
  int controller = socket(AF_UNIX, SOCK_STREAM, 0);
  struct sockaddr_un address = {.sun_family = AF_UNIX};
  strncpy(address.sun_path, argv[1], sizeof address.sun_path - 1);
  if (held < 0 || connect(controller, (struct sockaddr *)&address, sizeof address)) return 4;
  printf("%s\n", ptsname(terminal));
  fflush(stdout);
  struct pollfd ends[2] = {{.fd = terminal, .events = POLLIN}, {.fd = controller, .events = POLLIN}};
  while (poll(ends, 2, -1) > 0) {
    if (ends[0].revents && !relay(terminal, controller)) break;
    if (ends[1].revents && !relay(controller, terminal)) break;
  }
  return 0;
}
