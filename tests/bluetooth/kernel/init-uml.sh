#!/bin/bash
# First process of the kernel that runs as a process: the host's files read-only under a layer in memory, and the guest's
# script there.
mount -n -t proc p /proc; mount -n -t sysfs s /sys; mount -n -t tmpfs t /mnt; mkdir -p /mnt/upper /mnt/work /mnt/root
mount -n -t overlay -o lowerdir=/,upperdir=/mnt/upper,workdir=/mnt/work o /mnt/root; cd /mnt/root || exit 1
for directory in proc sys; do mount -n --move "/$directory" "$directory"; done
mount -n -t devtmpfs d dev; mkdir -p dev/shm; mount -n -t tmpfs t run; mount -n -t tmpfs t tmp
echo "GUEST up after $(cut -d' ' -f1 proc/uptime) s, Linux $(uname -r)"
export PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME=/root
[ -z "$TRACE" ] || { mkdir tmp/trace; mount -n -t hostfs -o "$TRACE" t tmp/trace; }
chroot . /bin/bash KERNEL_RIG/guest.sh; echo "GUEST status $?"
sync; /bin/busybox poweroff -f
