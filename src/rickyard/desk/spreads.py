"""How well the oven-dry mass of a posting is known, and the density that it was reckoned with.

A stack's mass is its outside volume times the share of solid wood in it: the spread of that share is the spread of
the mass, of all of it and of any part that was told as a share. Where the yard's own stacks have taught the share, it
is theirs. What a load gave is known as well as the load.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from rickyard.book import StockKey, stock
from rickyard.book.models import Posting, Stack, StackMeasure
from rickyard.desk.context import Stage
from rickyard.desk.expectations import kind_of_stock
from rickyard.desk.wood_in import BARK_SD_SHARE
from rickyard.desk.yard_factor import factor_for
from rickyard.measure import Spread
from rickyard.wood import get_species

# From the 10th (or 90th) percentile of a normal spread to its middle, in standard deviations.
TENTH = 1.2816
OWN_SHARE = "the yard's own share of solid wood"


def sd_share_of(content: Spread) -> float:
    """Standard deviation of a share of solid wood, as a share of it."""
    return (content.high - content.low) / 2 / TENTH / content.mid


def sd_of_stack(stage: Stage, stack: Stack, held: dict[StockKey, int] | None = None) -> float:
    """Standard deviation of the oven-dry mass of a stack, as a share; of the wood in it, or of what was `held`."""
    session = stage.session
    piled = session.scalar(
        select(StackMeasure.piled)
        .where(StackMeasure.stack_id == stack.id, StackMeasure.counts())
        .order_by(StackMeasure.happened_at.desc(), StackMeasure.id.desc())
        .limit(1)
    )
    kind = kind_of_stock(stock(session, stack.spot_id) if held is None else held)
    # Asked for once a deed: a sale of several stacks reads the yard's own share once.
    own = session.info.get(OWN_SHARE)
    if own is None:
        own = session.info[OWN_SHARE] = factor_for(stage)
    content = own.share(
        piled or ("ranked" if stack.kind == "stack" else "loose"), stack.form, stack.piece_length_m, kind
    )
    return sd_share_of(content)


def sd_of(key: StockKey, sd_share: float) -> float:
    """Of one kind in a whole known so well: bark, reckoned by the ratio of its species, is known less."""
    return max(sd_share, BARK_SD_SHARE) if key.form == "bark" else sd_share


def density_of(key: StockKey) -> float:
    """Oven-dry mass of a green volume of this kind of wood, or of its bark [kg/m³]."""
    wood = get_species(key.species_id)
    return wood.bark_basic_density_kg_m3 if key.form == "bark" else wood.basic_density_kg_m3


def sold_sd_share(postings: Sequence[Posting]) -> float:
    """What the entry of a sale says of its wood; wood that came back is known no better than when it went."""
    return max((posting.sd_share or 0.0 for posting in postings if posting.form != "bark"), default=0.0)
