#!/bin/sh
# Sets up a school on a Debian computer on which the slackwater package is installed, and starts it: Debian's message server and
# database, a user for each hub, the service. Run again, it adds hubs and changes nothing else. As root:
#
#   set-up-school.sh nats://localhost:4222 quay                                      for hubs on this computer alone
#   set-up-school.sh tls://HOST:4222 quay,basin /path/server.pem /path/server.key    for hubs elsewhere; the certificate names HOST
#
# Where the certificate's authority is one of your own: its certificate in /etc/slackwater-school/authority.pem before.
set -eu
[ "$(id -u)" = 0 ] || { echo "set-up-school.sh: needs root." >&2; exit 2; }
[ $# = 2 ] || [ $# = 4 ] || { sed -n '2,9s/^# \{0,1\}//p' "$0" >&2; exit 2; }
address="$1" hubs="$2" certificate="${3:-}" key="${4:-}"
own="$(dirname "$(readlink -f "$0")")"
folder=/var/lib/nats

command -v slackwater >/dev/null || { echo "set-up-school.sh: the package slackwater is not installed." >&2; exit 2; }
DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends nats-server postgresql
getent passwd slackwater-school >/dev/null ||
  useradd --system --user-group --no-create-home --home-dir /var/lib/slackwater-school --shell /usr/sbin/nologin slackwater-school

# The message server: settings, users and stream in a folder of its own user's.
install -d -o nats -g nats -m 700 "$folder"
set -- --school "$address" --to "$folder" --hubs "$hubs"
if [ -n "$certificate" ]; then
  install -o nats -g nats -m 600 "$certificate" "$folder/server.pem"
  install -o nats -g nats -m 600 "$key" "$folder/server.key"
  set -- "$@" --certificate "$folder/server.pem" --key "$folder/server.key"
fi
runuser -u nats -- env HOME="$folder" slackwater school config "$@"

# The archive: the service's user, known by the system's word for who it is, over a socket.
sql() { runuser -u postgres -- psql -X -q -A -t -v ON_ERROR_STOP=1 -c "$1"; }
pg_isready -q || { [ -d /run/systemd/system ] && systemctl start postgresql; }
[ -n "$(sql "SELECT 1 FROM pg_roles WHERE rolname = 'slackwater-school'")" ] || sql 'CREATE ROLE "slackwater-school" LOGIN'
[ -n "$(sql "SELECT 1 FROM pg_database WHERE datname = 'slackwater-school'")" ] ||
  sql "CREATE DATABASE \"slackwater-school\" OWNER \"slackwater-school\" TEMPLATE template0 ENCODING 'UTF8' LOCALE 'C.UTF-8'"

# Settings of the service; what was written there by hand stays.
install -d -m 755 /etc/slackwater-school /etc/systemd/system/nats-server.service.d
install -m 644 "$own/nats-server-school.conf" /etc/systemd/system/nats-server.service.d/slackwater.conf
if [ ! -e /etc/default/slackwater-school ]; then
  install -m 600 /dev/null /etc/default/slackwater-school
  echo 'SLACKWATER_ARCHIVE=postgres://localhost/slackwater-school?host=/run/postgresql&user=slackwater-school' >>/etc/default/slackwater-school
  [ ! -e /etc/slackwater-school/authority.pem ] ||
    echo 'SLACKWATER_SCHOOL_AUTHORITY=/etc/slackwater-school/authority.pem' >>/etc/default/slackwater-school
fi
[ -e /usr/lib/systemd/system/slackwater-school.service ] || [ -e /etc/systemd/system/slackwater-school.service ] ||
  install -m 644 "$own/slackwater-school.service" /etc/systemd/system/
if [ -d /run/systemd/system ]; then
  systemctl daemon-reload
  systemctl enable --now postgresql.service
  systemctl enable nats-server.service slackwater-school.service
  systemctl restart nats-server.service slackwater-school.service
fi
echo "The school runs. Its page: runuser -u slackwater-school -- slackwater link --data /var/lib/slackwater-school --port 7411"
echo "For each hub, on its computer (slackwater start --config FILE): $folder/hub-NAME.json"
