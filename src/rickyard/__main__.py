"""`python -m rickyard`: the same as the `rickyard` command."""

from rickyard.cli import main

main()
