"""The quick model behind questions that need many forecasts: what if, how fine, from which month.

Such questions compare forecasts with one another, so an error common to all of them matters little.
"""

from __future__ import annotations

from rickyard.season.models import DryingModel
from rickyard.season.reduced import REDUCED

#: Members that a comparison runs; odds by steps of 1 in 32.
MEMBERS = 32


def screening_model() -> DryingModel:
    """A model that answers in well under a second; its `name` says which."""
    return REDUCED
