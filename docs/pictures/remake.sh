#!/usr/bin/env bash
# Makes the pictures of the docs again from the example flight. Wants Chromium,
# poppler-utils and ImageMagick.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
export WINDFALL_LOGBOOK="$out/logbook.db"

WINDFALL_SHOTS="$out" go test ./cmd/windfall -run 'TestPageStory|TestPageAccess' >/dev/null
go build -o "$out/windfall" ./cmd/windfall
WINDFALL_SHOTS="$out" go test ./cmd/windfall -run TestBaseStory >/dev/null
"$out/windfall" predict testdata/garza/flight.yaml --out "$out/files" >/dev/null
"$out/windfall" search testdata/garza/flight.yaml --out "$out/files" >/dev/null
"$out/windfall" export testdata/garza/flight.yaml --pace "75 cm" --format png --format sheet --out "$out/files" >/dev/null

small=(-colors 250 -define png:compression-level=9 -strip)
cd docs/pictures
convert "$out/files/landing.png" -resize 600x "${small[@]}" landing.png
convert "$out/files/search.png" -resize 600x "${small[@]}" search-phone.png
convert "$out/search-base.png" -resize 420x "${small[@]}" search-base.png
# Without green cones: Machado, Oliveira and Fernandes 2009, severity 1.
convert "$out/files/search.png" -colorspace RGB -resize 360x \
  -color-matrix '0.367322 0.860646 -0.227968  0.280085 0.672501 0.047413  -0.011820 0.042940 0.968881' \
  -colorspace sRGB "${small[@]}" search-deuteranopia.png
convert "$out/files/search.png" -resize 360x -colorspace Gray -strip search-grey.png
chromium --no-sandbox --headless --disable-gpu --no-pdf-header-footer --user-data-dir="$out/profile" \
  --print-to-pdf="$out/sheet.pdf" "$out/files/sheet.html" 2>/dev/null
pdftoppm -r 75 -gray -png "$out/sheet.pdf" "$out/sheet"
for page in 1 2; do convert "$out/sheet-$page.png" -strip "sheet-$page.png"; done
flat=(-colors 64 -define png:compression-level=9 -strip)
convert "$out/phone-dusk-Try.png" "${flat[@]}" page-phone-try.png
convert "$out/phone-drawing.png" "${flat[@]}" page-phone-drawing.png
convert "$out/phone-hours.png" "${flat[@]}" page-phone-hours.png
convert "$out/laptop-saved.png" -resize 900x "${flat[@]}" page-laptop.png

# The pages for the field: some screens by themselves, and all of them by day and by night; wants montage too.
WINDFALL_SHOTS="$out" go test ../../cmd/windfall -run 'TestCrewScreens|TestCrew(Height|Nothing|Looked|Left)|TestSearchPage(Ground)?$' >/dev/null
plain=(+dither -colors 40 -define png:compression-level=9 -strip)
for name in clock lead saw; do convert "$out/day-crew-$name.png" "${plain[@]}" "field-$name.png"; done
convert "$out/night-crew-lead.png" "${plain[@]}" field-night-lead.png
for look in day night; do
  montage "$out/$look"-crew-*.png "$out/$look"-page-*.png -tile 7x -geometry +8+8 miff:- | convert - -alpha off +dither -colors 80 "${plain[@]:3}" "PNG8:field-$look.png"
done
