"""The command line: every computation and the book's housekeeping, for people and (`--json`) for programs."""

from rickyard.cli.app import main

__all__ = ["main"]
