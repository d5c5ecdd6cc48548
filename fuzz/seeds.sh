#!/bin/sh
# Short recordings of every kind that the program reads, as seeds for the target `decode`: the same
# half second of a low note in each coding, and each of them cut off in the middle. Needs ffmpeg.
#
#   sh seeds.sh corpus/decode
#
# The first byte of a seed chooses the ending, as the target does.
set -eu
out=${1:?say which folder the seeds go into}
mkdir -p "$out"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
note='0.2*sin(2*PI*73.4*t)+0.1*sin(2*PI*220.2*t)+0.05*sin(2*PI*367*t)'

# Arguments: number of the ending, its name, a name for the seed, what ffmpeg shall do.
seed() {
    number=$1 ending=$2 name=$3
    shift 3
    ffmpeg -nostdin -loglevel error -y -f lavfi -i "aevalsrc=$note:s=8000:d=0.5" "$@" \
        "$work/$name.$ending" || return 0
    for part in 100 60; do
        size=$(($(wc -c <"$work/$name.$ending") * part / 100))
        { printf "\\$(printf %03o "$number")"; head -c "$size" "$work/$name.$ending"; } \
            >"$out/$name-$ending-$part"
    done
}

seed 0 wav s16 -c:a pcm_s16le
seed 0 wav s24 -c:a pcm_s24le
seed 0 wav u8 -c:a pcm_u8
seed 0 wav f32 -c:a pcm_f32le
seed 0 wav f64 -c:a pcm_f64le
seed 0 wav alaw -c:a pcm_alaw
seed 0 wav mulaw -c:a pcm_mulaw
seed 0 wav adpcm-ms -c:a adpcm_ms
seed 0 wav adpcm-ima -c:a adpcm_ima_wav
seed 0 wav stereo -ac 2 -c:a pcm_s16le
seed 1 flac flac -c:a flac
seed 1 flac stereo -ac 2 -c:a flac
seed 2 mp3 mp3 -c:a libmp3lame -b:a 32k
seed 2 mp3 joint -ac 2 -c:a libmp3lame -b:a 48k -joint_stereo 1
seed 2 mp3 mp2 -ar 16000 -c:a mp2 -b:a 32k -f mp2
seed 3 m4a aac -c:a aac -b:a 32k
seed 3 m4a alac -c:a alac
seed 4 ogg vorbis -c:a libvorbis -ac 2
seed 4 ogg flac -c:a flac
seed 4 ogg opus -ar 48000 -c:a libopus -b:a 16k
seed 5 aiff s16 -c:a pcm_s16be
seed 5 aiff s24 -c:a pcm_s24be
seed 6 caf s16 -c:a pcm_s16be
seed 6 caf alac -c:a alac
seed 6 caf mulaw -c:a pcm_mulaw
ls "$out" | wc -l
