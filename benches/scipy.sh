#!/usr/bin/env bash
# The same equations, solved by SciPy: installs it into an environment of its own, then compares.
set -euo pipefail
cd "$(dirname "$0")/.."

mkdir -p target
environment=${SCIPY_VENV:-target/scipy}
test -x "$environment/bin/python" || python3 -m venv "$environment"
"$environment/bin/python" -c 'import scipy' 2>/dev/null || "$environment/bin/pip" install --quiet scipy
FLOOR=target/floor.json cargo bench --bench wltc
"$environment/bin/python" benches/solve_ivp.py target/floor.json
