#!/usr/bin/env python3
"""Prints strips of three plans with a browser and measures the paper: a ruler of 100 mm must be 100 mm in the PDF, its
line and its tick marks each, and every hole as wide and as far down as its strip says.

    python3 -m venv VENV && VENV/bin/pip install pymupdf
    cargo build --release && VENV/bin/python scripts/print_strips.py [--all] [--keep FOLDER]

Needs Chromium (chromium, or CHROMIUM=...). The plans: a soprano of 14 mm, a contrabass of 24 mm with pads, and a body of
45 mm below 20 Hz. Of each and of each paper the first, the middle and the last page are printed, or --all of them.
Ends with exit code 1 when something is not at its size.
"""
import argparse
import math
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import pymupdf

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release" / "borescribe"
PT_PER_MM = 72 / 25.4
# A browser lays a page out in whole pixels of 0.26 mm, which is 0.04 % of a sheet; paper itself shrinks by more.
MOST_OFF = 0.001
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
NAMES = "C C# D D# E F F# G G# A A# B".split()


def plan(bore, length, chamber, wall, notes, sizes, pads):
    """A plain tube, one hole a note; places only guessed."""
    text = (f'format = 1\n[instrument]\nname = "Plan"\nprototype = "P1"\ndrive = "reed"\n[wall]\nthickness_mm = {wall}\n'
            f"[mouthpiece]\nchamber_ml = {chamber}\n[[bore]]\nat_mm = 0\ndiameter_mm = {bore}\n"
            f"[[bore]]\nat_mm = {length}\ndiameter_mm = {bore}\n")
    holes = len(sizes)
    for i, size in enumerate(sizes, 1):
        text += (f'[[hole]]\nname = "h{i}"\nat_mm = {length * (0.35 + 0.55 * i / holes):.0f}\ndiameter_mm = {size}\n'
                 f"chimney_mm = {wall + (3 if pads else 0)}\ndrilled = false\n")
        if pads:
            text += f"pad_diameter_mm = {size + 7}\npad_lift_mm = {0.35 * size:.1f}\n"
    for count, midi in enumerate(notes):
        opened = ", ".join(f'"h{i}"' for i in range(holes + 1 - count, holes + 1))
        text += f'[[fingering]]\nname = "{NAMES[midi % 12]}{midi // 12 - 1}"\nopen = [{opened}]\n'
    return text


PLANS = {
    "soprano-14": plan(14, 500, 5, 3, [53, 55, 57, 58, 60, 62, 64, 65], [6, 6, 7, 7, 8, 8, 9], False),
    "contrabass-24": plan(24, 2300, 31, 3, [25, 27, 29, 30, 32, 34, 35, 37, 39], [10, 10, 11, 12, 12, 13, 14, 15], True),
    "below-20-hz-45": plan(45, 4600, 150, 4, [14, 16, 18, 19, 21, 23, 25], [20, 22, 24, 26, 28, 30], True),
}


def printed(chromium, svg, pdf, profile):
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--no-pdf-header-footer", f"--user-data-dir={profile}"]
    subprocess.run([chromium, *flags, f"--print-to-pdf={pdf}", svg.as_uri()], check=True, capture_output=True)
    return pymupdf.open(pdf)


def extent(drawing):
    """Left, top, width and height of what is drawn, mm; of the points themselves, since a path may move its pen."""
    points = [point for item in drawing["items"] if item[0] in "lc" for point in item[1:]]
    if not points:
        return None
    xs, ys = [p.x / PT_PER_MM for p in points], [p.y / PT_PER_MM for p in points]
    return min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)


def shapes(page):
    return [box for box in map(extent, page.get_drawings()) if box]


def rulers_of(page):
    """Level and upright rulers, each as the length of its line and the way from its first tick mark to its last, mm. A
    ruler is known by its eleven tick marks of 3 mm; its one long piece is measured by itself, since ticks that stand at
    their places say nothing of it."""
    level, upright = [], []
    for drawing in page.get_drawings():
        pieces = [item[1:] for item in drawing["items"] if item[0] == "l"]
        long = [(a, b) for a, b in pieces if math.dist(a, b) / PT_PER_MM > 5]
        ticks = [(a, b) for a, b in pieces if abs(math.dist(a, b) / PT_PER_MM - 3) < 0.1]
        if len(long) != 1 or len(ticks) != 11 or len(pieces) != 12:
            continue
        (a, b), is_level = long[0], abs(long[0][0].x - long[0][1].x) > abs(long[0][0].y - long[0][1].y)
        at = [(a.x if is_level else a.y) / PT_PER_MM for a, _ in ticks]
        (level if is_level else upright).append((math.dist(a, b) / PT_PER_MM, max(at) - min(at)))
    return level, upright


def circles(svg):
    """Left, top and width of each circle, mm, and how exactly it can be told: a dashed one is printed as its dashes,
    each with an outline half its pen of 0.2 mm farther out, and perhaps with none where it is widest."""
    found = re.findall(r'<circle( class="dash")? cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"', svg.read_text())
    for dash, *numbers in found:
        x, y, r = map(float, numbers)
        yield x - r, y - r, 2 * r, 0.2 if dash else 0.02


def page_troubles(svg, document, size_mm):
    """What is not at its size on one page, and the lines of its two rulers in mm."""
    troubles = []
    if len(document) != 1:
        troubles.append(f"{len(document)} sheets instead of one")
    page = document[0]
    for mm, wanted in zip((page.rect.width / PT_PER_MM, page.rect.height / PT_PER_MM), size_mm):
        if abs(mm / wanted - 1) > MOST_OFF:
            troubles.append(f"the sheet is {mm:.2f} mm instead of {wanted}")
    drawn = shapes(page)
    level, upright = rulers_of(page)
    if len(level) != 1 or len(upright) != 1:
        troubles.append(f"{len(level)} level and {len(upright)} upright rulers")
    rulers = [line for line, _ in level + upright]
    troubles += [f"the line of a ruler is {mm:.3f} mm" for mm in rulers if abs(mm / 100 - 1) > MOST_OFF]
    troubles += [f"a ruler's ticks span {mm:.3f} mm" for _, mm in level + upright if abs(mm / 100 - 1) > MOST_OFF]
    for left, top, width, most_off in circles(svg):
        wanted = (left, top, width, width)
        if not any(all(abs(mm - w) < MOST_OFF * w + most_off for mm, w in zip(shape, wanted)) for shape in drawn):
            troubles.append(f"no circle of {width:.2f} mm at {left:.2f}, {top:.2f}")
    return troubles, rulers


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--all", action="store_true", help="print every page")
    parser.add_argument("--keep", type=pathlib.Path, help="keep plans, strips and PDF in this folder")
    asked = parser.parse_args()
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not chromium:
        sys.exit("print_strips: no Chromium here; install it, or say where it is with CHROMIUM=...")
    count, bad, lengths, holes = 0, 0, [], 0
    with tempfile.TemporaryDirectory() as work:
        folder = asked.keep or pathlib.Path(work)
        for name, text in PLANS.items():
            own = (folder / name).resolve()
            own.mkdir(parents=True, exist_ok=True)
            (own / "plan.toml").write_text(text)
            subprocess.run([PROGRAM, "place", "plan.toml", "-q", "--strip", "strips"], cwd=own, check=True,
                           capture_output=True)
            for paper, size_mm in PAPERS_MM.items():
                pages = sorted((own / "strips").glob(f"strip-{paper}-*.svg"), key=lambda p: int(p.stem.split("-")[-1]))
                chosen = pages if asked.all else sorted({pages[0], pages[len(pages) // 2], pages[-1]})
                for svg in chosen:
                    document = printed(chromium, svg, svg.with_suffix(".pdf"), pathlib.Path(work) / "profile")
                    troubles, rulers = page_troubles(svg, document, size_mm)
                    count, bad, holes = count + 1, bad + bool(troubles), holes + len(list(circles(svg)))
                    lengths += rulers
                    print(f"{name} {svg.name}: rulers {', '.join(f'{mm:.3f}' for mm in rulers)} mm; "
                          + ("; ".join(troubles) or "all at its size"))
    print(f"{count} pages printed, {holes} circles, rulers of {min(lengths, default=0):.3f} to {max(lengths, default=0):.3f} mm; {bad} pages not at size")
    sys.exit(1 if bad else 0)


main()
