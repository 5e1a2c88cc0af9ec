# A sound card that is not there, for tests: a private sound server with one pair of ends, "cable":
# what is played into it comes out of it, sample for sample. Source this file, then
#
#   audio_have                      is the server installed?
#   audio_start FOLDER              starts it and sets the environment so that programs find it
#   audio_unplug [NAME]             the pair vanishes, as if pulled out; NAME: cable
#   audio_plug [NAME]               it is there again
#   audio_stop FOLDER               ends it; the folder is removed
#   audio_sanitizer HERE            for programs under the thread sanitizer; HERE: this folder
#
# norewinds: the server must not mix seconds ahead, or a capture that sets in later hears nothing
# for that long. float at 48000: samples pass unchanged. The sound settings in the folder list
# only our own ends, so nothing of the machine's is touched or seen.

cable_settings='norewinds=1 rate=48000 channels=2 format=float32le'

# libpulse's threads are cancelled at places where the sanitizer, told to overlook a library
# altogether, would lose count; so what it can't see there is named.
audio_sanitizer() {
    TSAN_OPTIONS="${TSAN_OPTIONS:-}:ignore_noninstrumented_modules=0:suppressions=$1/sound_threads.supp"
    export TSAN_OPTIONS
}

audio_have() {
    command -v pulseaudio >/dev/null && command -v pactl >/dev/null && command -v pacat >/dev/null
}

audio_plug() {
    # shellcheck disable=SC2086
    pactl load-module module-null-sink sink_name="${1:-cable}" $cable_settings >/dev/null &&
        pactl set-default-sink "${1:-cable}" &&
        pactl set-default-source "${1:-cable}.monitor"
}

audio_unplug() {
    number=$(pactl list short modules | awk -v name="sink_name=${1:-cable}" '
        /module-null-sink/ { for (i = 3; i <= NF; i++) if ($i == name) print $1 }')
    [ -n "$number" ] && pactl unload-module "$number"
}

audio_write_settings() {
    printf 'default-sample-rate = 48000\ndefault-sample-format = float32le\n' >"$1/server.conf"
    cat >"$1/sound.conf" <<'END'
pcm.!default {
    type pulse
    hint { show on description "default" }
}
pcm.cable_out {
    type pulse
    device "cable"
    hint { show on description "playback end of the cable" }
}
pcm.cable_in {
    type pulse
    device "cable.monitor"
    hint { show on description "capture end of the cable" }
}
END
    [ -z "${AUDIO_MORE:-}" ] || cat "$AUDIO_MORE" >>"$1/sound.conf"
}

audio_start() {
    mkdir -p "$1/home" "$1/run" && chmod 700 "$1" "$1/run" || return 1
    audio=$(cd "$1" && pwd)
    audio_write_settings "$audio"
    (
        export HOME="$audio/home" XDG_CONFIG_HOME="$audio/home" XDG_RUNTIME_DIR="$audio/run"
        export PULSE_CONFIG="$audio/server.conf" DBUS_SESSION_BUS_ADDRESS=disabled:
        exec pulseaudio -n --daemonize=no --use-pid-file=no --exit-idle-time=-1 --disable-shm=yes \
            --realtime=no --high-priority=no --log-target="file:$audio/server.log" \
            -L "module-native-protocol-unix auth-anonymous=1 socket=$audio/run/native"
    ) </dev/null >"$audio/server.out" 2>&1 &
    echo $! >"$audio/server.pid"
    export XDG_RUNTIME_DIR="$audio/run" PULSE_SERVER="unix:$audio/run/native"
    export PULSE_COOKIE="$audio/cookie" ALSA_CONFIG_PATH="$audio/sound.conf" JACK_NO_START_SERVER=1
    tries=0
    until pactl info >/dev/null 2>&1; do
        tries=$((tries + 1))
        [ $tries -le 200 ] || break
        sleep 0.05
    done
    audio_plug || {
        cat "$audio/server.out" "$audio/server.log" >&2
        return 1
    }
}

audio_stop() {
    [ -f "$1/server.pid" ] || return 0
    server=$(cat "$1/server.pid")
    kill "$server" 2>/dev/null
    tries=0
    while kill -0 "$server" 2>/dev/null && [ $tries -lt 100 ]; do
        case $(awk '{ print $3 }' "/proc/$server/stat" 2>/dev/null) in Z) break ;; esac
        tries=$((tries + 1))
        sleep 0.05
    done
    rm -rf "$1"
}
