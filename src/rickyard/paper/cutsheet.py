"""The cut sheet: every log to scale with its marks in big figures, to take to the saw; and the splitting sheet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from rickyard.cut import (
    CAUTIONS_ALL,
    CAUTIONS_SAW,
    CAUTIONS_SPLITTER,
    CAUTIONS_WEDGE,
    CutPlan,
    LogPlan,
    Saw,
    SplitPlan,
    advice,
    how_to,
    is_stretched,
    letter,
    log_svg,
    marks_of,
    pattern_name,
    split_svg,
    sums_of,
)
from rickyard.errors import InputError
from rickyard.paper.typeset import STANDING_MM, frame, typeset
from rickyard.show.tape import length_words, piece_length, tape_feet, tape_mark, tape_unit
from rickyard.show.voice import Voice
from rickyard.text import T_, Text

MOST_LOGS_ON_PAPER = 400
"""Logs on one cut sheet; about four go on a page."""


@dataclass(frozen=True, kw_only=True)
class CutSheetData:
    """All that the cut sheet says. `made_at` is UTC-aware and the only time in the file.

    Attributes
    ----------
    title
        What is cut, in the yard's words: a load, a pile.
    notes
        What is odd about it.
    """

    plan: CutPlan
    made_at: datetime
    title: str = ""
    notes: tuple[Text, ...] = ()
    locale: str = "en_CA"
    units: str = "imperial"
    page: Literal["a4", "letter"] = "letter"

    @property
    def voice(self) -> Voice:
        return Voice(self.locale, self.units)


@dataclass(frozen=True, kw_only=True)
class SplitSheetData:
    """All that the splitting sheet says: one plan for each kind of round, with what was asked of it in words.

    Without `notes` it says what to sort out first.
    """

    plans: tuple[tuple[str | Text, SplitPlan], ...]
    made_at: datetime
    title: str = ""
    notes: tuple[Text, ...] = ()
    locale: str = "en_CA"
    units: str = "imperial"
    page: Literal["a4", "letter"] = "letter"

    @property
    def voice(self) -> Voice:
        return Voice(self.locale, self.units)


def render_cut_sheet(data: CutSheetData) -> bytes:
    """The cut sheet as a tagged PDF; the same data give the same bytes. Raises InputError if it has too many logs."""
    return typeset("cutsheet", _cut_words(data), made_at=data.made_at)[0]


def picture_cut_sheet(data: CutSheetData, ppi: float = 110.0) -> list[bytes]:
    """Its pages as PNG."""
    return typeset("cutsheet", _cut_words(data), made_at=data.made_at, output="png", ppi=ppi)


def render_split_sheet(data: SplitSheetData) -> bytes:
    """The splitting sheet as a tagged PDF; the same data give the same bytes."""
    return typeset("splitsheet", _split_words(data), made_at=data.made_at)[0]


def picture_split_sheet(data: SplitSheetData, ppi: float = 110.0) -> list[bytes]:
    """Its pages as PNG."""
    return typeset("splitsheet", _split_words(data), made_at=data.made_at, output="png", ppi=ppi)


def _page(data: CutSheetData | SplitSheetData) -> dict[str, Any]:
    voice = data.voice
    return frame(voice, STANDING_MM[data.page]) | {
        "notes": [voice.text(note) for note in data.notes],
    }


def _solid(voice: Voice, m3: float) -> str:
    return voice.amount(m3, voice.volume_unit("solid"), 3 if voice.metric else 2)


def _cut_words(data: CutSheetData) -> dict[str, Any]:
    plan, voice = data.plan, data.voice
    if len(plan.logs) > MOST_LOGS_ON_PAPER:
        raise InputError(
            "pdf",
            wanted=T_("at most {most} logs on one cut sheet", most=MOST_LOGS_ON_PAPER),
            got=str(len(plan.logs)),
            next_move=T_("Split the list of logs into loads, and print a sheet for each."),
        )
    sums = sums_of(plan)
    longest = max(one.log.length_m for one in plan.logs)
    said = [
        (T_("Pieces"), _solid(voice, sum(plan.solid_m3))),
        (T_("Kindling, from sound short ends"), _solid(voice, sums.kindling_m3)),
        (T_("Sawdust, {cuts} cuts", cuts=sums.cuts), _solid(voice, sums.sawdust_m3)),
        (T_("Defects, ends and scraps"), _solid(voice, sums.scrap_m3)),
        (T_("Bark on the pieces, beside the wood"), _solid(voice, sums.bark_m3)),
    ]
    lead = [
        T_(
            "Measure from the thick end. Full mark: saw beyond it. Dashed mark: saw before it. Tick each piece off."
        ),
        T_("Marks in inches, to an eighth.")
        if not voice.metric
        else T_("Marks in centimetres, to a millimetre."),
    ]
    if any(ware.tolerance_m for ware in plan.wares):
        lead.append(length_words(ware.tolerance_m for ware in plan.wares))
    if any(is_stretched(one.log, longest) for one in plan.logs):
        lead.append(T_("Drawn to one scale; very thin logs are drawn thicker than they are."))
    else:
        lead.append(T_("Drawn to one scale."))
    return _page(data) | {
        "title": data.title or voice.text(T_("Cut sheet")),
        "lead": [voice.text(text) for text in lead],
        "heads": [
            voice.text(text) for text in (T_("Ware"), T_("Length"), T_("Pieces"), T_("Solid"), T_("Wanted"))
        ],
        "wares": [
            [
                letter(place),
                ware.name,
                piece_length(voice, ware.length_m, ware.tolerance_m),
                voice.whole(plan.pieces(place)),
                _solid(voice, plan.solid_m3[place]),
                "–" if ware.wanted_m3 is None else _solid(voice, ware.wanted_m3),
            ]
            for place, ware in enumerate(plan.wares)
        ],
        "sums": [[voice.text(name), amount] for name, amount in said],
        "logs": [_log_words(voice, one, plan, longest) for one in plan.logs],
        "cautions": [voice.text(text) for text in (*CAUTIONS_SAW, *CAUTIONS_ALL)],
    }


def mark_boxes(voice: Voice, one: LogPlan, saw: Saw) -> list[dict[str, str]]:
    """The marks of a log in order: what the tape shows, the same in feet, and on which side to saw (`kind` near) or
    which piece ends there (far). A piece that ends with the log has no figure but a word."""
    boxes: list[dict[str, str]] = []
    marks = {(round(mark.at_m, 6), mark.side) for mark in marks_of(one, saw)}
    for number, cut in enumerate(one.cuts, start=1):
        if (round(cut.from_m, 6), "near") in marks:
            boxes.append(
                {
                    "kind": "near",
                    "figure": tape_mark(voice, cut.from_m),
                    "feet": tape_feet(voice, cut.from_m),
                    "words": voice.text(T_("saw before it")),
                }
            )
        end = (round(cut.to_m, 6), "far") in marks
        boxes.append(
            {
                "kind": "far",
                "figure": tape_mark(voice, cut.to_m) if end else voice.text(T_("end")),
                "feet": tape_feet(voice, cut.to_m) if end else "",
                "words": f"{number} {letter(cut.ware)}",
            }
        )
    return boxes


def _log_words(voice: Voice, one: LogPlan, plan: CutPlan, longest_m: float) -> dict[str, Any]:
    log = one.log
    sizes = T_(
        "{length} long, {large} and {small} thick",
        length=voice.dimension(log.length_m),
        large=voice.thickness(log.large_d_m),
        small=voice.thickness(log.small_d_m),
    )
    boxes = mark_boxes(voice, one, plan.saw)
    title = voice.text(
        T_(
            "Log {log}, {sizes}: {pieces}",
            log=log.log_id,
            sizes=sizes,
            pieces=", ".join(
                f"{letter(cut.ware)} {tape_mark(voice, cut.to_m)} {tape_unit(voice)}" for cut in one.cuts
            )
            or voice.text(T_("nothing to cut")),
        )
    )
    kinds = sorted({defect.kind for defect in log.defects if defect.kind})
    return {
        "name": log.log_id,
        "species": log.species,
        "sizes": voice.text(sizes),
        "defects": ", ".join(kinds),
        "none": "" if one.cuts else voice.text(T_("Nothing to cut.")),
        "svg": log_svg(one, plan.saw, title=title, scale_m=longest_m),
        "alt": title,
        "boxes": boxes,
    }


def _split_words(data: SplitSheetData) -> dict[str, Any]:
    voice = data.voice
    if not data.plans:
        raise ValueError("a splitting sheet without rounds")
    rounds = []
    for asked, plan in data.plans:
        name = voice.text(
            T_(
                "Round of {diameter}: {pattern}",
                diameter=voice.thickness(plan.diameter_m),
                pattern=pattern_name(plan),
            )
        )
        lines = [
            asked,
            T_(
                "Pieces: {count}. Thickness: mean {mean}, greatest {greatest}.",
                count=len(plan.pieces),
                mean=voice.thickness(plan.thickness_mean_m),
                greatest=voice.thickness(plan.thickness_max_m),
            ),
            *how_to(plan),
            *plan.cautions,
        ]
        rounds.append(
            {
                "name": name,
                "lines": [voice.text(line) for line in lines if line],
                "svg": split_svg(plan, title=name, thickness=voice.thickness, diameter=voice.thickness),
                "alt": name,
            }
        )
    return _page(data) | {
        "notes": [voice.text(note) for note in data.notes or advice(None)],
        "title": data.title or voice.text(T_("Splitting sheet")),
        "lead": [
            voice.text(
                T_(
                    "Thickness is that of the square split that dries as slowly; the shaded pieces are the slowest."
                )
            )
        ],
        "rounds": rounds,
        "cautions": [voice.text(text) for text in (*CAUTIONS_SPLITTER, *CAUTIONS_WEDGE, *CAUTIONS_ALL)],
    }
