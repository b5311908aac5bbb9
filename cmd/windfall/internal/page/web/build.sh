#!/usr/bin/env bash
# Makes ../static, the page that the program carries, from src and the map
# library: checks the types, bundles, and prints how large it has become.
# --check makes it elsewhere and compares: what is committed is what src gives.
# Needs Node and npm; versions are fixed by package-lock.json.
set -euo pipefail
cd "$(dirname "$0")"

out=../static
if [ "${1:-}" = --check ]; then
  out=$(mktemp -d)
  trap 'rm -rf "$out"' EXIT
fi
npm ci --silent --no-audit --no-fund
npx tsc -p .
mkdir -p "$out"
npx esbuild src/main.js --bundle --minify --format=esm --target=es2022 --legal-comments=inline --log-level=warning --outfile="$out/page.js"
sed '/images\//d' node_modules/leaflet/dist/leaflet.css | cat - src/page.css | npx esbuild --loader=css --minify --log-level=warning >"$out/page.css"
cp src/index.html src/icon.svg "$out/"
cp node_modules/leaflet/LICENSE "$out/leaflet-licence.txt"
if [ "$out" != ../static ]; then
  diff -r "$out" ../static
  echo "static is what src gives"
fi
echo "$(cat "$out"/page.js "$out"/page.css "$out"/index.html | gzip -9 | wc -c) bytes compressed"
