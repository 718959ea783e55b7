"""Runs one measurement by name: `./run bench NAME [WORDS]`; without a name it lists what there is."""

import importlib
import inspect
import sys
from pathlib import Path

HERE = Path(__file__).parent


def names() -> list[str]:
    """Every module beside this one."""
    return sorted(path.stem for path in HERE.glob("*.py") if not path.stem.startswith("_"))


def main(wanted: list[str]) -> int:
    """Runs what was asked for; gives the exit status."""
    if not wanted:
        print("\n".join(names()))
        return 0
    if wanted[0] not in names():
        print(f"No measurement is called {wanted[0]}; there are: {', '.join(names())}.", file=sys.stderr)
        return 2
    run = importlib.import_module(f"bench.{wanted[0]}").main
    if wanted[1:] and not inspect.signature(run).parameters:
        print(f"{wanted[0]} takes no further words; {' '.join(wanted[1:])} was given.", file=sys.stderr)
        return 2
    run(*wanted[1:])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
