#!/bin/sh
# Flies the committed cases again with the independent implementation and compares with the committed
# numbers; exit 1 on a difference. --all writes every number anew, the Monte Carlo too.
set -eu
cd "$(dirname "$0")"
python=${PYTHON:-/usr/bin/python3}
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 PYTHONDONTWRITEBYTECODE=1
case "${1:-}" in
"")
	"$python" truth.py --check
	"$python" random_flights.py --check
	"$python" runs.py --check
	;;
--all)
	"$python" truth.py
	"$python" random_flights.py
	"$python" runs.py --write
	"$python" montecarlo.py
	;;
*)
	echo "usage: remake.sh [--all]" >&2
	exit 2
	;;
esac
