"""Reports what our readers make of three public suites, which are not part of this tree.

    python tests/public_suites FOLDER

FOLDER holds, at any depth, the JSON parsing suite, the YAML test suite, and UCUM's functional tests
beside the essence, UCUM's table of units. Exit status 1 if one is missing or a case fails.
"""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from public_suites.json_cases import check_json
from public_suites.ucum_cases import check_ucum
from public_suites.yaml_cases import check_yaml


def main(folder: Path) -> int:
    failures = 0
    for check in (check_json, check_yaml, check_ucum):
        suite = check(folder)
        print(suite.report(), end="\n\n")
        failures += len(suite.failures)
    return 1 if failures else 0


if __name__ == "__main__":
    if len(sys.argv) != 2 or not Path(sys.argv[1]).is_dir():
        sys.exit(__doc__)
    sys.exit(main(Path(sys.argv[1])))
