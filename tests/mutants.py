"""Mutation testing of the physics that judges: `./run mutants [NAME]`; fails where too few are caught.

mutmut changes one thing at a time (a sign, a limit, an operator) in a copy of a module and runs the tests
that reach it; a mutant is caught when a test fails, or runs far longer than it should. What survives is
listed, for a person to read: some change nothing that can be seen. The limit is the house's own.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
LEAST = 0.85
"""Share of mutants that must be caught [-]."""
TESTS = {
    "damage": ("test_damage.py",),
    "monthly": ("test_monthly.py",),
    "transport": (
        "test_march_rates.py",
        *(
            f"test_transport.py::test_{name}"
            for name in (
                "what_is_stored_is_what_the_fast_march_keeps",
                "a_start_is_at_the_humidity_asked_for_also_over_frost",
                "hours_may_be_asked_for_and_faults_are_told",
            )
        ),
    ),
}
"""Modules under warmside.physics and the tests that must catch their mutants."""
SETTINGS = """
[tool.mutmut]
source_paths = ["src"]
only_mutate = ["src/warmside/physics/{name}.py"]
also_copy = ["build_kernel.py"]
pytest_add_cli_args_test_selection = [{tests}]

[tool.pytest.ini_options]
pythonpath = ["."]
addopts = "--import-mode=importlib"
"""

CONFTEST = """
from hypothesis import Phase, settings

phases = (Phase.explicit, Phase.generate)
settings.register_profile("mutants", deadline=None, derandomize=True, phases=phases)
settings.load_profile("mutants")
"""
"""In place of the tests' own: the same examples in every run, none made smaller, which takes longest."""


def lay_out(name: str, folder: Path) -> None:
    """A copy of what the tests need, with settings for one module."""
    for part in ("src", "tests/physics"):
        shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "build_kernel.py", folder)
    (folder / "tests" / "conftest.py").write_text(CONFTEST)
    tests = ", ".join(f'"tests/physics/{test}"' for test in TESTS[name])
    (folder / "pyproject.toml").write_text(SETTINGS.format(name=name, tests=tests))


def mutmut(folder: Path, *words: str) -> str:
    """What mutmut says; raises CalledProcessError where it fails."""
    command = (sys.executable, "-m", "mutmut", *words)
    return subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, text=True, check=True).stdout


def score(name: str) -> float:
    """Share of the mutants of a module that are caught; prints it, and those that survive."""
    with tempfile.TemporaryDirectory() as there:
        folder = Path(there)
        lay_out(name, folder)
        mutmut(folder, "run", "--max-children", str(os.cpu_count() or 1))
        mutmut(folder, "export-cicd-stats")
        counts = json.loads((folder / "mutants" / "mutmut-cicd-stats.json").read_text())
        left = [
            line.split(":")[0].strip() for line in mutmut(folder, "results").splitlines() if "surv" in line
        ]
        for mutant in left:
            print(
                "\n".join(line for line in mutmut(folder, "show", mutant).splitlines() if line[:1] in "@+-")
            )
    caught = counts["killed"] + counts["timeout"] + counts["segfault"]
    print(f"{name}: {caught} of {counts['total']} mutants caught, {100.0 * caught / counts['total']:.1f} %")
    return float(caught / counts["total"])


def main(wanted: list[str]) -> int:
    """Runs the modules asked for, or all; gives the exit status."""
    unknown = sorted(set(wanted) - set(TESTS))
    if unknown:
        print(f"No mutants of {', '.join(unknown)}; there are those of {', '.join(TESTS)}.", file=sys.stderr)
        return 2
    few = [name for name in wanted or TESTS if score(name) < LEAST]
    if few:
        print(f"Fewer than {LEAST:.0%} are caught in {', '.join(few)}.", file=sys.stderr)
    return 1 if few else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
