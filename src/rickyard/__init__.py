"""Rickyard: from the log at the gate to dry wood at the household, for a small firewood yard."""

__version__ = "0.1.0"
