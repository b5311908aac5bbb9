#!/bin/sh
# Flies the committed cases again with the independent implementation and compares with truth.json;
# exit 1 on a difference. --write writes truth.json instead. --all also remakes the Monte Carlo.
set -eu
cd "$(dirname "$0")"
python=${PYTHON:-/usr/bin/python3}
case "${1:-}" in
"") exec "$python" flight.py --check ;;
--write) exec "$python" flight.py ;;
--all)
	"$python" flight.py
	exec "$python" montecarlo.py
	;;
*)
	echo "usage: remake.sh [--write | --all]" >&2
	exit 2
	;;
esac
