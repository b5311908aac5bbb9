#!/usr/bin/env bash
# Makes what the program carries from src and the map library: ../static, the
# pages that it serves, and ../../fieldpage/static, the parts of search.html.
# Checks the types, tries the modules that need no browser, bundles, and prints
# how large it has become.
# --check makes it elsewhere and compares: what is committed is what src gives.
# Needs Node and npm; versions are fixed by package-lock.json.
set -euo pipefail
cd "$(dirname "$0")"

out=.. field=../../fieldpage
if [ "${1:-}" = --check ]; then
  out=$(mktemp -d) field=$out/field
  trap 'rm -rf "$out"' EXIT
fi
[ "${1:-}" = --quick ] || npm ci --silent --no-audit --no-fund
npx tsc -p .
node --test --test-reporter=dot test/*.test.js
mkdir -p "$out/static" "$field/static"

# bundle SRC OUT FORMAT; styles OUT FILE...
bundle() { npx esbuild "$1" --bundle --minify --format="$3" --target=es2022 --legal-comments=inline --log-level=warning --outfile="$2"; }
styles() {
  local to=$1
  shift
  sed '/images\//d' node_modules/leaflet/dist/leaflet.css | cat - "$@" | npx esbuild --loader=css --minify --log-level=warning >"$to"
}
bundle src/main.js "$out/static/page.js" esm
styles "$out/static/page.css" src/look.css src/page.css
bundle src/field/crew.js "$out/static/crew.js" esm
styles "$out/static/crew.css" src/look.css src/field/field.css src/field/crew.css
bundle src/field/sw.js "$out/static/sw.js" iife
bundle src/field/search.js "$field/static/search.js" iife
{ # goes about alone: the map library's licence goes with it
  printf '/*! Leaflet\n'
  tr -d '\r' <node_modules/leaflet/LICENSE # a browser reads no carriage returns in a page, and the policy's hash is of what it reads
  printf '*/\n'
  cat "$field/static/search.js"
} >"$field/static/with-licence.js"
mv "$field/static/with-licence.js" "$field/static/search.js"
styles "$field/static/search.css" src/look.css src/field/field.css
cp src/index.html src/icon.svg src/field/crew.html "$out/static/"
cp src/field/search.html "$field/static/"
cp node_modules/leaflet/LICENSE "$out/static/leaflet-licence.txt"
if [ "$out" != .. ]; then
  diff -r "$out/static" ../static
  diff -r "$field/static" ../../fieldpage/static
  echo "static is what src gives"
fi
size() { cat "$@" | gzip -9 | wc -c; }
echo "$(size "$out"/static/{page.js,page.css,index.html}) bytes compressed"
echo "the crew's page: $(size "$out"/static/crew.*) bytes compressed"
echo "search.html without its plan: $(cat "$field"/static/* | wc -c) bytes, $(size "$field"/static/*) compressed"
