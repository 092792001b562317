#!/bin/sh
# Starts the box's own unit under systemd in the guest: users, groups and owners of devices as an image has them, and
# systemd as the first program of a namespace of its own, beside the agent.
#   service.sh PYTHON
set -e
for group in audio input gpio i2c spi; do getent group $group >/dev/null || groupadd --system $group; done
id keelnote >/dev/null 2>&1 || useradd --system --user-group --no-create-home keelnote
chgrp audio /dev/snd/*
chmod 0660 /dev/snd/*
units=/etc/systemd/system
mkdir -p $units/keelnote.service.d
cp hardware/service/keelnote.service $units
cat >$units/keelnote.service.d/here.conf <<EOF
[Unit]
DefaultDependencies=no
[Service]
ExecStart=
ExecStart=$1 -m hardware.desk box --stick /run/no-stick
WorkingDirectory=$PWD
# An emulated processor takes its time.
TimeoutStartSec=300
WatchdogSec=20
EOF
# Python or the checkout may lie in somebody's home, which the unit hides; here, in the guest, it may be looked into.
case " $(readlink -f "$1") $PWD/" in
  *" /root/"* | *" /home/"*)
    chmod a+x /root
    echo 'ProtectHome=read-only' >>$units/keelnote.service.d/here.conf
    ;;
esac
exec unshare --pid --fork --mount --mount-proc sh -c '
  mountpoint -q /sys/fs/cgroup || mount -t cgroup2 none /sys/fs/cgroup
  exec env container=other /lib/systemd/systemd --system --unit=keelnote.service --log-target=console --show-status=no
'
