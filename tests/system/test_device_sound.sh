#!/bin/sh
# The device floor on a sound server of its own: test_device_sound.sh PROGRAM [ARGUMENT...]
# Ends with 77 (left out) when there is no server to start.
here=$(cd "$(dirname "$0")" && pwd)
# shellcheck source=tests/system/audio.sh
. "$here/audio.sh"
audio_have || {
    echo "left out: no pulseaudio here (scripts/bootstrap sound installs it)." >&2
    exit 77
}
folder=$(mktemp -d)
trap 'audio_stop "$folder"' EXIT
trap 'exit 1' INT TERM
audio_start "$folder" || exit 1
audio_sanitizer "$here"
AUDIO_FOLDER=$folder AUDIO_TOOLS=$here/audio.sh "$@"
