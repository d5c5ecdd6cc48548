#!/usr/bin/env bash
# Makes the pictures in docs/pictures/ from the samples inside the program, so that no picture shows what the program
# doesn't do: `bash scripts/make_pictures.sh`. Run it again when the look of charts or the words of findings change.
# Where Chromium is installed (chromium, or CHROMIUM=...), the picture of the whole page is taken as well.
set -euo pipefail
cd "$(dirname "$0")/.."
exec < /dev/null

out=docs/pictures
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
borescribe() { cargo run --release --quiet -- "$@" > /dev/null; }

mkdir -p "$out"
borescribe demo --step 2 --plots "$work/leak" --report "$work/page.html" --sound without
borescribe demo --step 3 --plots "$work/hole"

# The causes are numbered by weight: the first leak that is told, and the first hole.
first() { printf '%s\n' "$1"; }
cp "$(first "$work"/leak/why-*-leak-*.svg)" "$out/why-leak.svg"
cp "$(first "$work"/hole/why-*-hole-*.svg)" "$out/why-hole.svg"
cp "$work/leak/register-1.svg" "$out/register-1.svg"
cp "$work/leak/instrument.svg" "$out/instrument.svg"
cp "$work/leak/undertones.svg" "$out/undertones.svg"
cp "$work/leak/take-G3.svg" "$out/take.svg"

chromium=${CHROMIUM:-$(command -v chromium || command -v chromium-browser || true)}
if [ -n "$chromium" ]; then
    # A root shell in a container has no sandbox; the page is our own and runs nothing.
    "$chromium" --headless --no-sandbox --disable-gpu --hide-scrollbars --user-data-dir="$work/profile" \
        --window-size=860,1180 --screenshot="$PWD/$out/page.png" "file://$work/page.html" > "$work/log" 2>&1
else
    echo "make_pictures: no Chromium here; $out/page.png stays as it is" >&2
fi
ls -l "$out"
