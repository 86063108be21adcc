"""What dries: the pieces of one species in one stack, and where they stand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from rickyard.errors import InputError
from rickyard.season.models import PieceShape
from rickyard.text import T_, Text

if TYPE_CHECKING:
    from rickyard.wood import Species

FORMS = ("split", "round", "board")
COVERS = ("none", "top", "shed")
EXPOSURES = ("sheltered", "normal", "windy")

#: Sizes that the solver takes [m]; wider than anything burnt, narrower than a typing error.
LENGTH_M = (0.05, 8.0)
THICKNESS_M = (0.005, 0.80)
WIDTH_M = (0.005, 1.0)
START_DB = (0.05, 3.0)

#: Thickness of the splits and rounds that the constants were fitted on [m].
FITTED_THICKNESS_M = {"split": (0.07, 0.134), "round": (0.13, 0.25), "board": (0.029, 0.029)}
#: Side of the square that dries as slowly as a round of diameter 1 (same slowest rate of decay).
ROUND_SIDE = 0.924
BOARD_WIDTH_M = 0.15


@dataclass(frozen=True)
class Pieces:
    """The mean piece of a stack, its wood and its place.

    Parameters
    ----------
    species_id
        Id of a species, genus or trade group of `rickyard.wood`.
    form
        `split`, `round` (thickness is its diameter) or `board`.
    length_m, thickness_m, width_m
        Size of the mean piece [m]; no width: as thick for a split, 0.15 m for a board.
    bark
        Whether bark is on: on one of the long faces of a split, all round a round; boards have none.
    cover
        `none` (rain falls on it), `top` (the top of the stack is covered) or `shed` (roof, no sun).
    exposure
        `sheltered`, `normal` or `windy`.
    stacked_on
        The day the drying starts.
    start_mc_db
        Moisture on that day [water / oven-dry mass]; None: green, as the species table has it.

    Raises
    ------
    InputError
        For a form, cover or exposure that is not in the list, or a size no piece of firewood has.
    """

    species_id: str
    form: str
    length_m: float
    thickness_m: float
    width_m: float | None = None
    bark: bool = True
    cover: str = "top"
    exposure: str = "normal"
    stacked_on: date = date(2000, 4, 1)
    start_mc_db: float | None = None

    def __post_init__(self) -> None:
        _one_of("form", self.form, FORMS)
        _one_of("cover", self.cover, COVERS)
        _one_of("exposure", self.exposure, EXPOSURES)
        _between("length", self.length_m, LENGTH_M, T_("Give the length of one piece."))
        _between("thickness", self.thickness_m, THICKNESS_M, T_("Give the thickness of the mean piece."))
        if self.width_m is not None:
            _between("width", self.width_m, WIDTH_M, T_("Give the width of the mean piece."))
        if self.start_mc_db is not None:
            _between(
                "start_moisture",
                self.start_mc_db,
                START_DB,
                T_("Give the water in the wood on the day it was stacked over its oven-dry mass."),
                unit="dry basis",
            )

    @property
    def shape(self) -> PieceShape:
        """The box that is solved."""
        if self.form == "round":
            side = ROUND_SIDE * self.thickness_m
            return PieceShape(side, side, self.length_m, 4 if self.bark else 0)
        if self.form == "board":
            return PieceShape(self.thickness_m, self.width_m or BOARD_WIDTH_M, self.length_m, 0)
        return PieceShape(
            self.thickness_m, self.width_m or self.thickness_m, self.length_m, 1 if self.bark else 0
        )


@dataclass(frozen=True)
class WoodClass:
    """How a species dries, as far as the drying cases tell: which constants are its own."""

    softwood: bool
    oak: bool
    wet_wood: bool
    #: A group with members of more than one class: spreads are widened.
    mixed: bool


def wood_class(species: Species) -> WoodClass:
    """The drying class of a species or of a wider name."""
    genera = {(member or species.id).split("_")[0] for member in (species.members or (species.id,))}
    if species.rank == "unnamed":
        genera = set()
    oak, wet = {"quercus"}, {"populus"}
    return WoodClass(
        softwood=species.group == "softwood",
        oak=bool(genera) and genera <= oak,
        wet_wood=bool(genera) and genera <= wet,
        mixed=species.group == "mixed"
        or (bool(genera & (oak | wet)) and not (genera <= oak or genera <= wet)),
    )


def _one_of(field: str, got: str, names: tuple[str, ...]) -> None:
    if got not in names:
        raise InputError(
            field,
            wanted=T_("one of {names}", names=", ".join(names)),
            got=got,
            next_move=T_("Choose one of them."),
        )


def _between(field: str, got: float, limits: tuple[float, float], move: Text, unit: str = "m") -> None:
    low, high = limits
    if not low <= got <= high:  # refuses NaN as well
        raise InputError(
            field,
            wanted=T_("{low:g} to {high:g} {unit}", low=low, high=high, unit=unit),
            got=f"{got:g}",
            next_move=move,
        )
