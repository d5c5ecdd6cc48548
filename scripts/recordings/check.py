#!/usr/bin/env python3
"""Makes recordings in the codings and containers that makers have, whole and damaged, with ffmpeg and sox, and holds
the program to them: each is read, with its pitch right and its loss told, or refused by its own name.

    cargo build --release
    python3 scripts/recordings/check.py                      # prints a table; ends with 1 when one is not as it should be
    python3 scripts/recordings/check.py --kept tests/audio/kept   # writes the small ones anew that `cargo test` reads

Needs Python 3.9, ffmpeg (with libmp3lame, libgsm, libspeex, libvorbis, libopus) and sox. No other packages.
"""

import argparse
import json
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PITCH_HZ = 73.4
TONE = "0.3*sin(2*PI*73.4*t)+0.1*sin(2*PI*220.2*t)+0.05*sin(2*PI*367*t)"
CUT = "ends early"
CONVERT = "ffmpeg -i in.file"

# What ffmpeg makes: file, arguments, words that the refusal holds; none where it is read.
MADE = [
    ("s16.wav", "-c:a pcm_s16le", None),
    ("s24.wav", "-c:a pcm_s24le", None),
    ("s32.wav", "-c:a pcm_s32le", None),
    ("u8.wav", "-c:a pcm_u8", None),
    ("f32.wav", "-c:a pcm_f32le", None),
    ("f64.wav", "-c:a pcm_f64le", None),
    ("alaw.wav", "-c:a pcm_alaw", None),
    ("mulaw.wav", "-c:a pcm_mulaw", None),
    ("adpcm-ms.wav", "-c:a adpcm_ms", None),
    ("adpcm-ima.wav", "-c:a adpcm_ima_wav", None),
    ("adpcm-ima-stereo.wav", "-ac 2 -c:a adpcm_ima_wav", None),
    ("six-channels.wav", "-ac 6 -c:a pcm_s16le", None),
    ("rf64.wav", "-c:a pcm_s16le -rf64 always", None),
    ("mp3.wav", "-c:a libmp3lame -b:a 32k", None),
    ("mp2.wav", "-ar 16000 -c:a mp2 -b:a 32k", None),
    ("flac.wav", "-c:a flac", None),
    ("s64.wav", "-c:a pcm_s64le", ["64 bits"]),
    ("gsm.wav", "-c:a libgsm_ms", ["GSM", "voice"]),
    ("aac.wav", "-c:a aac", ["AAC"]),
    ("ac3.wav", "-ar 32000 -c:a ac3 -b:a 32k", ["AC-3"]),
    ("g726.wav", "-c:a g726", ["G.726"]),
    ("g722.wav", "-ar 16000 -c:a g722", ["G.722"]),
    ("wma.wav", "-ar 16000 -c:a wmav2 -b:a 32k", ["Windows Media"]),
    ("yamaha.wav", "-c:a adpcm_yamaha", ["Yamaha"]),
    ("speex.wav", "-c:a libspeex", ["Speex", "voice"]),
    ("s8.aiff", "-c:a pcm_s8", None),
    ("s16.aiff", "-c:a pcm_s16be", None),
    ("s24.aiff", "-c:a pcm_s24be", None),
    ("f32.aifc", "-c:a pcm_f32be", None),
    ("sowt.aifc", "-c:a pcm_s16le", None),
    ("ima4.aifc", "-c:a adpcm_ima_qt", None),
    ("s16.caf", "-c:a pcm_s16be", None),
    ("s24le.caf", "-c:a pcm_s24le", None),
    ("s8.caf", "-c:a pcm_s8", None),
    ("f32.caf", "-c:a pcm_f32le", None),
    ("alaw.caf", "-c:a pcm_alaw", None),
    ("mulaw.caf", "-c:a pcm_mulaw", None),
    ("ima4.caf", "-c:a adpcm_ima_qt", None),
    ("alac.caf", "-c:a alac", None),
    ("opus.caf", "-ar 48000 -c:a libopus -b:a 16k", ["Opus"]),
    ("whole.flac", "-c:a flac", None),
    ("mp3.mp3", "-c:a libmp3lame -b:a 32k", None),
    ("mp2.mp3", "-ar 16000 -c:a mp2 -b:a 32k -f mp2", None),
    ("aac.m4a", "-c:a aac -b:a 32k", None),
    ("alac.m4a", "-c:a alac", None),
    ("faststart.m4a", "-c:a aac -b:a 32k -movflags +faststart", None),
    ("pieces.m4a", "-c:a aac -b:a 32k -movflags frag_keyframe+empty_moov+default_base_moof -frag_duration 200000", None),
    ("ac3.mp4", "-ar 32000 -c:a ac3 -b:a 32k", ["AC-3"]),
    ("opus.mp4", "-ar 48000 -c:a libopus -b:a 16k", ["Opus"]),
    ("vorbis.ogg", "-c:a libvorbis -ac 2", None),
    ("flac.ogg", "-c:a flac", None),
    ("opus.ogg", "-ar 48000 -c:a libopus -b:a 16k", ["Opus"]),
    ("speex.ogg", "-c:a libspeex", ["Speex", "voice"]),
    ("adts.aac", "-c:a aac -b:a 32k", None),
    ("au.au", "-c:a pcm_s16be", ["Sun AU"]),
    ("wave64.w64", "-c:a pcm_s16le", ["Wave64"]),
    ("wavpack.wv", "-c:a wavpack", ["WavPack"]),
    ("trueaudio.tta", "-c:a tta", ["True Audio"]),
    ("ac3.ac3", "-ar 32000 -c:a ac3 -b:a 32k", ["AC-3"]),
    ("matroska.mka", "-c:a flac", ["Matroska"]),
    ("windows.wma", "-ar 16000 -c:a wmav2 -b:a 32k", ["Windows Media"]),
]

# What sox makes: file, arguments, words that the refusal holds; none where it is read.
MADE_BY_SOX = [
    ("sox-alaw.wav", "-e a-law", None),
    ("sox-ima.wav", "-e ima-adpcm", None),
    ("sox-ms.wav", "-e ms-adpcm", None),
    ("sox-gsm.wav", "-e gsm-full-rate", ["GSM", "voice"]),
    ("sox-s8.aiff", "-b 8", None),
    ("sox-s32.aiff", "-b 32", None),
    ("sox-f32.wav", "-e floating-point -b 32", None),
    ("sox-s24.wav", "-b 24", None),
]

# Those that `cargo test` reads: small, and what no test can write byte by byte.
KEPT = [
    "mp3.wav", "mp2.wav", "flac.wav", "gsm.wav", "aac.wav", "ac3.wav", "g726.wav", "speex.wav", "wma.wav", "yamaha.wav",
    "ima4.aifc", "ima4.caf", "alaw.caf", "alac.caf", "whole.flac", "mp3.mp3", "faststart.m4a", "pieces.m4a", "ac3.mp4",
    "vorbis.ogg", "speex.ogg", "adts.aac",
]


def ffmpeg(path: Path, arguments: str, seconds: float) -> None:
    source = f"aevalsrc={TONE}:s=8000:d={seconds}"
    # "bitexact" leaves the version of ffmpeg and the time out, so that files can be made again.
    command = ["ffmpeg", "-nostdin", "-loglevel", "error", "-y", "-f", "lavfi", "-i", source]
    command += arguments.split() + ["-fflags", "+bitexact", "-flags:a", "+bitexact", "-map_metadata", "-1"]
    subprocess.run([*command, str(path)], check=True)


def sox(path: Path, arguments: str, seconds: float) -> None:
    """The same tone by way of sox, whose headings differ from ffmpeg's."""
    raw = path.with_suffix(".raw.wav")
    ffmpeg(raw, "-c:a pcm_s16le", seconds)
    subprocess.run(["sox", "-R", str(raw), *arguments.split(), str(path)], check=True)
    raw.unlink()


def wav(bits: int, container: int, channels: int, data: bytes, riff_by: int = 0, data_by: int = 0) -> bytes:
    block = container // 8 * channels
    fmt = struct.pack("<HHIIHH", 1, channels, 8000, 8000 * block, block, bits)
    return (
        b"RIFF" + struct.pack("<I", 36 + len(data) + riff_by) + b"WAVEfmt " + struct.pack("<I", 16) + fmt
        + b"data" + struct.pack("<I", len(data) + data_by) + data
    )


def pcm_of(path: Path) -> bytes:
    whole = path.read_bytes()
    return whole[whole.index(b"data") + 8 :]


def damaged(made: dict[str, Path], folder: Path) -> list[tuple[str, bytes, object]]:
    """Files that people have and no program writes on purpose: name, bytes, what is expected."""
    s16 = pcm_of(made["s16.wav"])
    samples = struct.unpack(f"<{len(s16) // 2}h", s16)
    many = b"".join(struct.pack("<h", sample) * 40 for sample in samples)
    s20 = b"".join(struct.pack("<i", sample * 256 & ~0xF)[:3] for sample in samples)
    s12 = b"".join(struct.pack("<h", sample & ~0xF) for sample in samples)
    read = {name: path.read_bytes() for name, path in made.items()}
    files: list[tuple[str, bytes, object]] = [
        ("twelve-bits.wav", wav(12, 16, 1, s12), None),
        ("twenty-bits.wav", wav(20, 24, 1, s20), None),
        ("forty-channels.wav", wav(16, 16, 40, many), None),
        ("data-one-too-large.wav", wav(16, 16, 1, s16, data_by=1), None),
        ("riff-one-too-large.wav", wav(16, 16, 1, s16, riff_by=1), None),
        ("riff-too-small.wav", wav(16, 16, 1, s16, riff_by=-100), None),
        ("cut.wav", wav(16, 16, 1, s16)[:-100], CUT),
        ("inside-its-header.wav", wav(16, 16, 1, s16)[:40], ["inside its header"]),
    ]
    for name in ("s16.aiff", "s24.aiff", "sowt.aifc", "s16.caf", "f32.caf", "alaw.caf"):
        expected = None if name.startswith("alaw") and read[name][-1:] == b"" else CUT
        files.append((f"one-byte-short-{name}", read[name][:-1], expected))
    for name in ("s16.caf", "alaw.caf", "ima4.caf"):
        caf = read[name]
        at = caf.index(b"data") + 4
        files.append((f"unknown-size-{name}", caf[:at] + b"\xff" * 8 + caf[at + 8 :], None))
    alac = read["alac.caf"]
    at = alac.index(b"data") + 4
    table = alac.index(b"pakt")
    files.append(("never-finished.caf", alac[:at] + b"\xff" * 8 + alac[at + 8 : table], ["never finished"]))
    flac = read["whole.flac"]
    for name, kind in (("comment", 4), ("cue", 5), ("picture", 6)):
        block = bytes([kind]) + (40).to_bytes(3, "big") + b"\xff" * 40
        files.append((f"damaged-{name}.flac", flac[:42] + block + flac[42:], None))
    files.append(("damaged-size.flac", flac[:43] + b"\x7f\xff\xff" + flac[46:], None))
    files.append(("cut.flac", flac[: len(flac) * 9 // 10], CUT))
    files.append(("inside-its-header.flac", flac[:30], ["inside its header"]))
    for name in ("faststart.m4a", "pieces.m4a"):
        files.append((f"cut-{name}", read[name][: len(read[name]) * 9 // 10], CUT))
    files.append(("cut.m4a", read["aac.m4a"][: len(read["aac.m4a"]) // 2], ["never finished"]))
    for name, size in (("large", 50_000_000), ("small", 5_000)):
        sizes = bytes((size >> shift) & 0x7F for shift in (21, 14, 7, 0))
        picture = b"ID3\x04\x00\x00" + sizes + b"\x89" * size
        files.append((f"{name}-picture.mp3", picture + read["mp3.mp3"], None))
        files.append((f"inside-{name}-picture.mp3", picture[: size // 2], ["inside its header"]))
    for name in ("long.mp3", "long.ogg"):
        files.append((f"cut-{name}", read[name][: len(read[name]) * 6 // 10], CUT))
    # A second of Vorbis lies in one page, which is read whole or not at all.
    files.append(("cut.ogg", read["vorbis.ogg"][: len(read["vorbis.ogg"]) * 9 // 10], ["before the first stretch"]))
    files.append(("inside-its-header.ogg", read["vorbis.ogg"][:200], ["inside its header"]))
    files.append(("noise.bin", bytes((i * i * 7919 >> 5) & 0xFF for i in range(20_000)), ["no recording"]))
    return files


def verdict(program: Path, path: Path, expected: object) -> tuple[bool, str]:
    """Whether the program did as expected, and what it did."""
    done = subprocess.run([program, "measure", "--json", path], capture_output=True, text=True, timeout=60)
    if "panicked" in done.stderr or done.returncode not in (0, 1):
        return False, f"exit {done.returncode}: {done.stderr.strip()[:100]}"
    take = json.loads(done.stdout)["takes"][0]
    told = {trouble["code"]: trouble["text"] for trouble in take["troubles"]}
    refused = told.get("unreadable")
    if isinstance(expected, list):
        if refused is None:
            return False, f"read: {take['pitch_hz']} Hz"
        lost = ("inside its header", "never finished", "before the first stretch")
        needed = expected if expected[0] in lost else [*expected, CONVERT]
        return all(words in refused for words in needed), refused
    if refused is not None:
        return False, refused
    loss = " ".join(told.values())
    is_cut = CUT in loss
    pitch = take["pitch_hz"]
    is_right = pitch is not None and abs(pitch - PITCH_HZ) < 0.05
    return is_right and is_cut == (expected == CUT), f"{pitch and round(pitch, 3)} Hz" + (f", {CUT}" if is_cut else "")


def is_stopped(program: Path, path: Path) -> bool:
    """Half a megabyte that holds twenty minutes of silence in eight channels at 192 kHz: the first 2^30 samples are
    looked at, which is 12 minutes, and that within half a minute."""
    silence = "anullsrc=r=192000:cl=7.1"
    command = ["ffmpeg", "-nostdin", "-loglevel", "error", "-f", "lavfi", "-i", silence, "-t", "1200", "-c:a", "flac"]
    subprocess.run([*command, str(path)], check=True)
    begun = time.monotonic()
    done = subprocess.run([program, "measure", "--json", path], capture_output=True, text=True, timeout=600)
    seconds = time.monotonic() - begun
    is_told = "only the first 12 minutes were read" in done.stdout
    print(f"{'  ' if is_told and seconds < 30 else '✗ '}{path.name:28} {path.stat().st_size} bytes, {seconds:.1f} s")
    return is_told and seconds < 30


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", type=Path, default=Path("target/release/borescribe"))
    parser.add_argument("--kept", type=Path, help="write the small files that `cargo test` reads into this folder")
    parser.add_argument("--long", action="store_true", help="also a FLAC that holds more than anybody waits for")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = {}
        for file, how, _ in MADE:
            made[file] = folder / file
            ffmpeg(made[file], how, 0.7 if arguments.kept else 1.0)
        expected = {file: words for file, _, words in MADE}
        for file, how in (("long.mp3", "-c:a libmp3lame -b:a 32k"), ("long.ogg", "-c:a libvorbis -ac 2")):
            made[file] = folder / file
            ffmpeg(made[file], how, 12.0)
            expected[file] = None
        for file, how, words in MADE_BY_SOX:
            made[file] = folder / file
            sox(made[file], how, 1.0)
            expected[file] = words
        for bits in (12, 20):
            file = {12: "twelve-bits.aiff", 20: "twenty-bits.aiff"}[bits]
            made[file] = folder / file
            sox(made[file], "-b 24" if bits == 20 else "-b 16", 0.7 if arguments.kept else 1.0)
            # sox rounds the depth up: the heading is told the depth, the samples keep their bytes.
            whole = bytearray(made[file].read_bytes())
            at = whole.index(b"COMM") + 8 + 6
            whole[at : at + 2] = bits.to_bytes(2, "big")
            made[file].write_bytes(whole)
            expected[file] = None
        for file, data, words in damaged(made, folder):
            made[file] = folder / file
            made[file].write_bytes(data)
            expected[file] = words
        if arguments.kept:
            arguments.kept.mkdir(parents=True, exist_ok=True)
            for file in KEPT:
                (arguments.kept / file).write_bytes(made[file].read_bytes())
            return 0
        wrong = 0
        if arguments.long:
            wrong += not is_stopped(arguments.program.resolve(), folder / "long.flac")
        for file, path in made.items():
            is_right, what = verdict(arguments.program.resolve(), path, expected[file])
            wrong += not is_right
            print(f"{'  ' if is_right else '✗ '}{file:28} {what[:150]}")
        print(f"{len(made)} files, {wrong} not as they should be")
        return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
