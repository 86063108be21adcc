"""What dries: the pieces of one species in one stack, and where they stand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rickyard.errors import InputError
from rickyard.season.models import PieceShape
from rickyard.text import T_, Text

FORMS = ("split", "half", "round", "log", "board")
COVERS = ("none", "top", "shed")
EXPOSURES = ("sheltered", "normal", "windy")
GROUNDS = ("raised", "soil")

#: Sizes that the solver takes [m]; wider than anything burnt, narrower than a typing error.
LENGTH_M = (0.05, 8.0)
THICKNESS_M = (0.005, 0.80)
WIDTH_M = (0.005, 1.0)
START_DB = (0.05, 3.0)
ROWS = (1, 20)

#: Thickness of the splits and rounds that the constants were fitted on [m].
FITTED_THICKNESS_M = {
    "split": (0.07, 0.134),
    "half": (0.13, 0.25),
    "round": (0.13, 0.25),
    "log": (0.13, 0.25),
    "board": (0.029, 0.029),
}
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
        `split`, `half` (a round split once), `round`, `log` (a pile waiting to be cut) or `board`; the
        thickness of a half, round or log is the diameter.
    length_m, thickness_m, width_m
        Size of the mean piece [m]; no width: as thick for a split, 0.15 m for a board.
    bark
        Whether bark is on: on one of the long faces of a split, all round a round or log, on the curved side
        of a half; boards have none.
    cover
        `none` (rain falls on it), `top` (the top of the stack is covered) or `shed` (roof, no sun).
    exposure
        `sheltered`, `normal` or `windy`.
    stacked_on
        The day the drying starts.
    start_mc_db
        Moisture on that day [water / oven-dry mass]; None: green, as the species table has it.
    rows
        Depth of the stack in rows [pieces' lengths].
    ground
        `raised` (on poles, pallets, gravel) or `soil`.

    Raises
    ------
    InputError
        For a form, cover, exposure or ground that is not in the list, or a size no piece or stack has.
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
    rows: int = 1
    ground: str = "raised"

    def __post_init__(self) -> None:
        _one_of("form", self.form, FORMS)
        _one_of("cover", self.cover, COVERS)
        _one_of("exposure", self.exposure, EXPOSURES)
        _one_of("ground", self.ground, GROUNDS)
        _between("rows", self.rows, ROWS, T_("Give the number of rows, front to back."), unit="rows")
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
        side = ROUND_SIDE * self.thickness_m
        if self.form in ("round", "log"):
            return PieceShape(side, side, self.length_m, 4 if self.bark else 0)
        if self.form == "half":
            # The square that stands for the round, cut in two: one wide face is bare.
            return PieceShape(side, side / 2, self.length_m, 3 if self.bark else 0)
        if self.form == "board":
            return PieceShape(self.thickness_m, self.width_m or BOARD_WIDTH_M, self.length_m, 0)
        return PieceShape(
            self.thickness_m, self.width_m or self.thickness_m, self.length_m, 1 if self.bark else 0
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
