"""`python -m warmside` and the command `warmside`: quiet also when interrupted while they load."""

import sys


def main() -> None:
    """The command line; an interruption before it is there exits with 130 as well."""
    try:
        from warmside.cli import main as run

        run()
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
