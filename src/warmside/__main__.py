"""`python -m warmside` is the same as `warmside`."""

from warmside.cli import main

main()
