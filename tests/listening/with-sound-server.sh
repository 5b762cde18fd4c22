#!/bin/sh
# Runs a command beside a sound server of its own, on a machine that need not have any sound.
#
#   tests/listening/with-sound-server.sh COMMAND [ARGUMENT...]
#
# What is played to the server's one loudspeaker, which is nothing but a null sink, is what its one
# microphone hears: that sink's monitor. Programs that use ALSA find both as "default"; paplay and
# pactl find the server too. Everything is gone when the command ends.
#
# Needs: pulseaudio, pulseaudio-utils, libasound2-plugins. Exit status 77 when they are missing,
# else that of the command.
set -eu

for tool in pulseaudio pactl paplay; do
    command -v "$tool" >/dev/null 2>&1 || { echo "with-sound-server: $tool is not installed" >&2; exit 77; }
done
[ $# -gt 0 ] || { echo "usage: with-sound-server.sh COMMAND [ARGUMENT...]" >&2; exit 2; }

room=$(mktemp -d)
server=
trap '[ -z "$server" ] || kill "$server" 2>/dev/null || :; wait 2>/dev/null || :; rm -rf "$room"' EXIT
trap 'exit 130' INT
trap 'exit 143' TERM

cat >"$room/asound.conf" <<EOF
</usr/share/alsa/alsa.conf>
pcm.!default {
    type asym
    playback.pcm { type pulse server "unix:$room/socket" device "played" }
    capture.pcm { type pulse server "unix:$room/socket" device "played.monitor" }
    hint { show on description "Proof microphone" }
}
ctl.!default { type pulse server "unix:$room/socket" }
EOF

# -n: none of the system's own set-up, which looks for hardware and a bus.
XDG_RUNTIME_DIR="$room" PULSE_RUNTIME_PATH="$room/run" PULSE_STATE_PATH="$room/state" \
    pulseaudio -n --daemonize=no --use-pid-file=no --exit-idle-time=-1 --disable-shm=yes --realtime=no \
    -L "module-null-sink sink_name=played rate=48000 channels=2" \
    -L "module-native-protocol-unix socket=$room/socket auth-anonymous=1" \
    >"$room/log" 2>&1 &
server=$!

export PULSE_SERVER="unix:$room/socket" ALSA_CONFIG_PATH="$room/asound.conf"
export SOUND_SERVER_PID="$server"
tries=0
until pactl info >/dev/null 2>&1; do
    tries=$((tries + 1))
    if [ "$tries" -gt 50 ] || ! kill -0 "$server" 2>/dev/null; then
        echo "with-sound-server: the server does not start:" >&2
        cat "$room/log" >&2
        exit 1
    fi
    sleep 0.1
done

status=0
"$@" || status=$?
exit "$status"
