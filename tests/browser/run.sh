#!/usr/bin/env bash
# Opens pages of `beadwise report` in a real Chromium: no error in its console, no request that leaves the file, no
# violation that axe-core finds, nothing wider than the window; and pictures of each to look at, on a narrow screen, a
# wide one and paper (Letter and A4).
#
#   tests/browser/run.sh [FOLDER]     pictures go to FOLDER, by default target/browser
#
# Chromium, poppler and the packages of package.json are installed where they are missing (Debian, npm).
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
root="$(cd "$here/../.." && pwd)"
out="${1:-$root/target/browser}"
mkdir -p "$out"
out="$(cd "$out" && pwd)"

missing=()
command -v chromium >/dev/null || missing+=(chromium)
command -v pdftoppm >/dev/null || missing+=(poppler-utils)
command -v node >/dev/null || missing+=(nodejs npm)
if [ "${#missing[@]}" -gt 0 ]; then
    apt-get update
    apt-get install -y "${missing[@]}"
fi
(cd "$here" && [ -d node_modules/axe-core ] && [ -d node_modules/puppeteer-core ] || npm install --no-audit --no-fund)

if [ -z "${BEADWISE:-}" ]; then
    (cd "$root" && cargo build --release)
    BEADWISE="${CARGO_TARGET_DIR:-$root/target}/release/beadwise"
fi
pages="$out/pages"
rm -rf "$pages"
mkdir -p "$pages"
demo="$root/fixtures-demo"
store="$pages/beds.db"

# The pages: a lone report, with prices, of each verdict, hostile, and the store's.
report() { "$BEADWISE" report "$@" --today 2025-11-25; }
report "$demo"/21-*/*.csv --vessel "Softener 2" -o "$pages/replace.html"
report "$demo"/21-*/*.csv --vessel "Softener 2" -o "$pages/replace-with-prices.html" \
    --state regenerated --tank-bore 24in --bed-depth 36in --freeboard-at-startup 22in --freeboard 20in \
    --feed-hardness 20gpg --salt-per-regeneration 80lb --daily-use 900gal --prices-on 2025-11 \
    --salt-price 0.20/lb --water-price 12/1000gal --resin-price 120/ft3 --disposal-price 20/ft3 --rebed-labour 600 \
    --cleaning-cost 400 --top-off-labour 250
report "$demo"/21-*/*.csv -o "$pages/two-beds.html"
report "$demo"/22-*/*.* -o "$pages/creamery.html"
report "$here/hostile.txt" -o "$pages/hostile.html"
"$BEADWISE" beds --store "$store" file --new --list "$demo/beds.csv" "$demo" >"$pages/filed.log" 2>&1 || true
# A complaint and an event, which only the store knows.
"$BEADWISE" beds --store "$store" set marsh-end-creamery/softener --complaint "Hard water by Friday, and more salt than last year" >/dev/null
report --store "$store" --bed marsh-end-creamery/softener -o "$pages/years.html"
report --store "$store" --bed pine-ridge-clinic/anion -o "$pages/anion.html"
report --store "$store" --bed mill-street-laundry/softener-1 -o "$pages/softener-1.html"
report --store "$store" --site "Mill Street Laundry" -o "$pages/site.html"
report --store "$store" --all -o "$pages/all.html"

node "$here/check.mjs" "$pages" "$out"
for pdf in "$out"/*.pdf; do
    pdftoppm -r 60 -png "$pdf" "${pdf%.pdf}"
done
echo "Pictures are in $out. Look at them."
