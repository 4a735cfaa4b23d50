#!/bin/sh
# First process of the emulated machine: loads the modules, mounts the host's files read-only under a layer in memory,
# and runs the guest's script there.
B=/bin/busybox
$B mount -t proc p /proc; $B mount -t sysfs s /sys; $B mount -t devtmpfs d /dev
while read -r module; do $B insmod "/mod/$module" || echo "GUEST insmod $module failed"; done < /mod/order
$B mkdir -p /lower; $B mount -t 9p -o ro,trans=virtio,version=9p2000.L,msize=524288,cache=loose host /lower
$B mount -t tmpfs t /up; $B mkdir -p /up/upper /up/work
$B mount -t overlay -o lowerdir=/lower,upperdir=/up/upper,workdir=/up/work o /newroot
for directory in proc sys dev; do $B mount --move "/$directory" "/newroot/$directory"; done
$B mount -t tmpfs t /newroot/run; $B mount -t tmpfs t /newroot/tmp; $B mkdir -p /newroot/dev/shm
echo "GUEST up after $($B cut -d' ' -f1 /newroot/proc/uptime) s"
export PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME=/root
$B chroot /newroot /bin/bash KERNEL_RIG/guest.sh; echo "GUEST status $?"
$B sync; $B poweroff -f
