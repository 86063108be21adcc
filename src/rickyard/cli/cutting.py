"""`rickyard cut plan` and `split plan`: where to cut each log, how to split each round, and the sheets for both."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rickyard.cli.output import Json, give, table
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_, Text

if TYPE_CHECKING:
    from rickyard.cut import CutPlan, Session, SplitPlan

KERF_MM = 8.0
"""Kerf of a chain saw if none is said: from memory, about that of a usual chain."""

Units = Annotated[str, typer.Option(help="imperial or metric.")]
Language = Annotated[str, typer.Option(help="en_CA, fr_CA, en_US, fr_FR or en_GB.")]
Paper = Annotated[str, typer.Option(help="a4 or letter.")]
Pdf = Annotated[Path | None, typer.Option(help="Write the sheet to this file.")]


def add_to(app: typer.Typer) -> None:
    cut = typer.Typer(help="Where to cut the logs.", no_args_is_help=True, rich_markup_mode=None)
    cut.command("plan")(cut_plan)
    app.add_typer(cut, name="cut")
    split = typer.Typer(help="How to split the rounds.", no_args_is_help=True, rich_markup_mode=None)
    split.command("plan")(split_plan)
    app.add_typer(split, name="split")


def cut_plan(
    logs: Annotated[
        Path,
        typer.Argument(
            help="CSV: log_id,length_m,d_large_cm,d_small_cm,species,defects, or any list of logs that "
            "`measure list` takes; at most 10 000 logs.",
            metavar="LOGS.csv",
        ),
    ],
    wares: Annotated[
        Path,
        typer.Argument(
            help="CSV: ware,piece_length_cm,value_per_solid_m3,wanted_solid_m3,min_d_cm,max_d_cm"
            "[,length_tolerance_cm].",
            metavar="WARES.csv",
        ),
    ],
    kerf_mm: Annotated[
        str, typer.Option(help="Wood the saw takes between two pieces [mm].")
    ] = f"{KERF_MM:g}",
    trim_cm: Annotated[str, typer.Option(help="Cut off each end of a log [cm].")] = "0",
    pdf: Pdf = None,
    svg: Annotated[Path | None, typer.Option(help="Write a drawing of each log into this folder.")] = None,
    title: Annotated[str, typer.Option(help="What stands over the sheet.")] = "",
    paper: Paper = "letter",
    units: Units = "imperial",
    language: Language = "en_CA",
    json_: Json = False,
) -> None:
    """Where to cut each log so that all together are worth most; proven, with the gap that is left."""
    from rickyard import cut
    from rickyard.show.units import parse_length

    _choice("paper", paper, ("a4", "letter"))
    voice = _voice(language, units)
    kerf = parse_length(kerf_mm, "kerf_mm", unit="mm", low=0.0, high=0.05)
    trim = parse_length(trim_cm, "trim_cm", unit="cm", low=0.0, high=2.0)
    read = cut.read_logs(_text(logs, "logs"))
    asked = cut.read_wares(_text(wares, "wares"))
    saw = cut.Saw(kerf, trim)
    cut.check_trim(read.logs, saw)
    plan = cut.plan_cuts(read.logs, asked.wares, saw)
    how = cut.method_note(plan)
    notes = (
        *read.notes,
        *asked.notes,
        *cut.cautions_of(read.logs, asked.wares, saw),
        *([how] if how else []),
    )
    sums, hand = cut.sums_of(plan), cut.by_hand(plan)
    files: list[tuple[Path, bytes]] = []
    if pdf is not None:
        files.append((pdf, _sheet(plan, notes, title, paper, voice)))
    if svg is not None:
        files += _drawings(plan, svg, voice)
    _write(files)
    give(
        {
            "logs": [
                {
                    "log_id": one.log.log_id,
                    "pieces": [
                        {
                            "from_m": piece.from_m,
                            "to_m": piece.to_m,
                            "ware": plan.wares[piece.ware].name,
                            "solid_m3": piece.solid_m3,
                        }
                        for piece in one.cuts
                    ],
                    "waste_m3": one.waste_m3,
                    "marks_m": [{"at_m": mark.at_m, "side": mark.side} for mark in cut.marks_of(one, saw)],
                }
                for one in plan.logs
            ],
            "wares": [
                {
                    "ware": ware.name,
                    "solid_m3": solid,
                    "wanted_solid_m3": ware.wanted_m3,
                    "counted_solid_m3": counted,
                    "pieces": plan.pieces(place),
                }
                for place, (ware, solid, counted) in enumerate(
                    zip(plan.wares, plan.solid_m3, plan.counted_m3, strict=True)
                )
            ],
            "value": plan.value,
            "bound": plan.bound,
            "gap": plan.gap,
            "method": plan.method,
            "cuts": sums.cuts,
            "sawdust_m3": sums.sawdust_m3,
            "kindling_m3": sums.kindling_m3,
            "scrap_m3": sums.scrap_m3,
            "bark_m3": sums.bark_m3,
            "bark_unknown_logs": sums.bark_unknown,
            "one_length": {
                "ware": plan.wares[hand.ware].name,
                "value": hand.value,
                "solid_m3": hand.solid_m3,
                "value_gain": hand.value_gain,
                "each_log_value": hand.each_value,
                "each_log_value_gain": hand.each_value_gain,
                "solid_gain": hand.solid_gain,
                "each_log_solid_m3": hand.each_solid_m3,
                "each_log_solid_gain": hand.each_solid_gain,
            },
            "warnings": [str(note) for note in notes],
            "cautions": [str(text) for text in (*cut.CAUTIONS_SAW, *cut.CAUTIONS_ALL)],
            "written": [str(path) for path, _ in files],
        },
        _cut_lines(plan, notes, voice, files),
        json_,
    )


def _cut_lines(
    plan: CutPlan, notes: Sequence[Text], voice: Voice, files: list[tuple[Path, bytes]]
) -> list[str]:
    from rickyard import cut
    from rickyard.show.tape import length_words, piece_length, tape_mark, tape_unit

    sums, hand = cut.sums_of(plan), cut.by_hand(plan)
    unit = tape_unit(voice)
    lines = []
    for one in plan.logs:
        pieces = ", ".join(
            f"{cut.letter(piece.ware)} {tape_mark(voice, piece.from_m)} to {tape_mark(voice, piece.to_m)}"
            for piece in one.cuts
        )
        lines.append(f"{one.log.log_id} [{unit} from the thick end]: {pieces or 'nothing to cut'}")
    lines += table(
        [
            [
                f"{cut.letter(place)} {ware.name}",
                piece_length(voice, ware.length_m, ware.tolerance_m),
                voice.whole(plan.pieces(place)),
                voice.volume(plan.solid_m3[place], "solid", both=False),
                "" if ware.wanted_m3 is None else voice.volume(ware.wanted_m3, "solid", both=False),
            ]
            for place, ware in enumerate(plan.wares)
        ],
        ["ware", "length", "pieces", "solid", "wanted"],
    )
    lines.append(
        f"value {plan.value:.2f} of {voice.volume(hand.plan_solid_m3, 'solid', both=False)} in the money of the list's "
        f"value_per_solid_m3, no plan above {plan.bound:.2f} (gap {100 * plan.gap:.3g} %, {plan.method}); "
        f"{sums.cuts} cuts"
    )
    lines.append(voice.text(length_words(ware.tolerance_m for ware in plan.wares)))
    for name, m3 in (
        ("kindling from short ends", sums.kindling_m3),
        ("sawdust", sums.sawdust_m3),
        ("defects, ends, scraps", sums.scrap_m3),
        ("bark", sums.bark_m3),
    ):
        lines.append(f"{name}: {voice.volume(m3, 'solid', both=False)}")
    for name, value, gain, solid, wood in (
        (
            f"all at one length ({plan.wares[hand.ware].name})",
            hand.value,
            hand.value_gain,
            hand.solid_m3,
            hand.solid_gain,
        ),
        (
            "each log at its best length",
            hand.each_value,
            hand.each_value_gain,
            hand.each_solid_m3,
            hand.each_solid_gain,
        ),
    ):
        more = "" if gain is None else f" (the plan: {100 * gain:+.1f} %)"
        fuller = "" if wood is None else f" (the plan: {100 * wood:+.1f} %)"
        lines.append(
            f"{name}: value {value:.2f}{more}, wood {voice.volume(solid, 'solid', both=False)}{fuller}"
        )
    lines += [f"note: {note}" for note in notes]
    lines += [f"caution: {text}" for text in (*cut.CAUTIONS_SAW, *cut.CAUTIONS_ALL)]
    return lines + [f"written: {path}" for path, _ in files]


def _sheet(plan: CutPlan, notes: tuple[Text, ...], title: str, paper: str, voice: Voice) -> bytes:
    from rickyard.paper import CutSheetData, render_cut_sheet

    return render_cut_sheet(
        CutSheetData(
            plan=plan,
            made_at=datetime.now(UTC),
            title=title,
            notes=notes,
            locale=voice.locale,
            units=voice.units,
            page="a4" if paper == "a4" else "letter",
        )
    )


def _drawings(plan: CutPlan, folder: Path, voice: Voice) -> list[tuple[Path, bytes]]:
    from rickyard import cut
    from rickyard.show.tape import tape_mark

    longest = max(one.log.length_m for one in plan.logs)
    made = []
    for number, one in enumerate(plan.logs, start=1):
        # A log's name is what somebody wrote; only what every disk takes goes into the file's name.
        name = "".join(sign if sign.isalnum() or sign in "-_" else "_" for sign in one.log.log_id)[:60]
        drawn = cut.log_svg(
            one,
            plan.saw,
            title=one.log.log_id,
            mark=lambda at_m: tape_mark(voice, at_m),
            scale_m=longest,
        )
        made.append((folder / f"{number:04d}-{name}.svg", drawn.encode()))
    return made


def split_plan(
    diameter: Annotated[str, typer.Option(help="Of the round, e.g. 14in or 0.36 (m).")],
    max_thickness: Annotated[
        str, typer.Option(help="The thickest split that will be dry in time; `season backwards` says it.")
    ],
    firebox: Annotated[
        str | None, typer.Option(help="Greatest distance across a piece for the stove's door.")
    ] = None,
    hand: Annotated[
        str | None, typer.Option(help="Greatest thickness by the ruler that lies in the hand.")
    ] = None,
    bark: Annotated[
        str, typer.Option(help="usual, tight (it lets nothing through) or auto: tight for birch.")
    ] = "auto",
    species: Annotated[str | None, typer.Option(help="Species, genus or group.")] = None,
    knotty: Annotated[bool, typer.Option("--knotty", help="Forked, knotty or twisted.")] = False,
    method: Annotated[
        str, typer.Option(help="How it is split, e.g. hydraulic_splitter.")
    ] = "hydraulic_splitter",
    piece_length: Annotated[str, typer.Option(help="Length of the pieces, e.g. 16in.")] = "16in",
    session: Annotated[
        list[str] | None,
        typer.Option(
            help="Work timed in the yard, METHOD:CORDS:HOURS[:PIECES[:THICKNESS]], of pieces of 16 in; THICKNESS of "
            "the splits, e.g. 5in, tells what the hours are of; PIECES may be empty; may be repeated.",
            metavar="METHOD:CORDS:HOURS[:PIECES[:THICKNESS]]",
        ),
    ] = None,
    pdf: Pdf = None,
    svg: Annotated[Path | None, typer.Option(help="Write the drawing to this file.")] = None,
    paper: Paper = "letter",
    units: Units = "imperial",
    language: Language = "en_CA",
    json_: Json = False,
) -> None:
    """How to split a round so that every piece is dry in time, fits the stove and lies in the hand."""
    from rickyard import cut
    from rickyard.cut.split import FIREBOX_M, HAND_M, ROUND_M, THICKNESS_M
    from rickyard.show.units import parse_length
    from rickyard.wood import find_species

    def size(text: str, field: str, bounds: tuple[float, float]) -> float:
        return parse_length(text, field, low=bounds[0], high=bounds[1])

    _choice("paper", paper, ("a4", "letter"))
    _choice("bark", bark, ("auto", "usual", "tight"))
    voice = _voice(language, units)
    length = parse_length(piece_length, "piece_length", low=0.05, high=2.6)
    wood = None if species is None else find_species(species, field="species")
    limit = size(max_thickness, "max_thickness", THICKNESS_M)
    plan = cut.split_round(
        size(diameter, "diameter", ROUND_M),
        limit,
        firebox_m=None if firebox is None else size(firebox, "firebox", FIREBOX_M),
        hand_m=None if hand is None else size(hand, "hand", HAND_M),
        tight_bark=bark == "tight" or (bark == "auto" and wood is not None and cut.has_tight_bark(wood.id)),
    )
    sessions = [_session(text) for text in session or []]
    learnt = cut.learn_splitting(method, sessions)
    cord = cut.cord_of([cut.Rounds(plan.diameter_m, len(plan.pieces))], length)
    pieces, hours = cord.pieces(learnt), cord.hours(learnt)
    ease = None if wood is None else cut.ease_of(wood)
    said = cut.advice(ease, knotty=knotty)
    cautions = (*cut.CAUTIONS_SPLITTER, *cut.CAUTIONS_WEDGE, *cut.CAUTIONS_ALL)
    words = str(cut.pattern_name(plan))
    files: list[tuple[Path, bytes]] = []
    if pdf is not None:
        files.append((pdf, _split_sheet(plan, limit, said, paper, voice)))
    if svg is not None:
        drawn = cut.split_svg(plan, title=words, thickness=voice.thickness, diameter=voice.thickness)
        files.append((svg, drawn.encode()))
    _write(files)
    found = cut.methods()[_method_id(method)]
    give(
        {
            "pieces": len(plan.pieces),
            "thickness_mean_cm": 100.0 * plan.thickness_mean_m,
            "thickness_max_cm": 100.0 * plan.thickness_max_m,
            "pattern": plan.pattern.id,
            "pattern_words": words,
            "diameter_cm": 100.0 * plan.diameter_m,
            "tight_bark": plan.tight_bark,
            "each": [
                {
                    "thickness_cm": 100.0 * piece.thickness_m,
                    "least_across_cm": 100.0 * piece.least_m,
                    "greatest_across_cm": 100.0 * piece.greatest_m,
                    "section_cm2": 1e4 * piece.area_m2,
                }
                for piece in plan.pieces
            ],
            "how": [str(text) for text in cut.how_to(plan)],
            "advice": [str(text) for text in said],
            "kindling": [str(text) for text in cut.kindling_words(wood)],
            "difficulty": None
            if ease is None
            else {
                "easiest": ease.easiest,
                "hardest": ease.hardest,
                "disagree": ease.disagree,
                "related": ease.related,
                "ratings": [
                    {"species": r.species_id, "rating": r.rating, "words": r.words, "source": r.source}
                    for r in ease.ratings
                ],
            },
            "hours_per_cord": {"low": hours.low, "mid": hours.mid, "high": hours.high},
            "pieces_per_cord": {
                "low": pieces.low,
                "mid": pieces.mid,
                "high": pieces.high,
            },
            "method": {
                "id": found.id,
                "source": found.source,
                "own_share": learnt.hours.own_share,
                "counts": learnt.counted.sessions,
                "counted_over_size": learnt.counted.per_cord.mid,
            },
            "warnings": [str(text) for text in plan.cautions],
            "cautions": [str(text) for text in cautions],
            "written": [str(path) for path, _ in files],
        },
        [
            f"round of {voice.thickness(plan.diameter_m)}: {words}",
            f"{len(plan.pieces)} pieces; thickness: mean {voice.thickness(plan.thickness_mean_m)}, "
            f"greatest {voice.thickness(plan.thickness_max_m)}",
            *(str(text) for text in cut.how_to(plan)),
            f"a cord of these: about {voice.whole(pieces.mid)} pieces "
            f"({voice.whole(pieces.low)} to {voice.whole(pieces.high)}), "
            + (
                f"{voice.number(hours.mid, 2)} hours of one person for splitting "
                f"({voice.number(hours.low, 2)} to {voice.number(hours.high, 2)})"
                if cord.split_share
                else "no hours of splitting: it is left whole"
            ),
            *(
                (
                    f"hours from: {found.source}; the yard's own say {voice.percent(learnt.hours.own_share)}",
                    f"note: {cut.HOURS_BLIND}",
                )
                if cord.split_share
                else ()
            ),
            *(str(text) for text in said),
            *(str(text) for text in cut.kindling_words(wood)),
            *(
                f"{rating.words} ({rating.species_id}): {rating.source}"
                for rating in (ease.ratings if ease else ())
            ),
            *(f"note: {text}" for text in plan.cautions),
            *(f"caution: {text}" for text in cautions),
            *(f"written: {path}" for path, _ in files),
        ],
        json_,
    )


def _method_id(name: str) -> str:
    from rickyard.cut.hours import find_method

    return find_method(name).id


def _split_sheet(plan: SplitPlan, limit_m: float, said: Sequence[Text], paper: str, voice: Voice) -> bytes:
    from rickyard.paper import SplitSheetData, render_split_sheet

    asked = T_("Wanted: no thicker than {limit}.", limit=voice.thickness(limit_m))
    return render_split_sheet(
        SplitSheetData(
            plans=((asked, plan),),
            made_at=datetime.now(UTC),
            notes=tuple(said),
            locale=voice.locale,
            units=voice.units,
            page="a4" if paper == "a4" else "letter",
        )
    )


def _session(text: str) -> Session:
    from rickyard import cut
    from rickyard.cut.hours import TIMED_LENGTH_M
    from rickyard.cut.split import THICKNESS_M
    from rickyard.show.units import parse_count, parse_length, parse_number

    parts = [part.strip() for part in text.split(":")]
    if len(parts) not in (3, 4, 5):
        raise InputError(
            "session",
            wanted=T_("METHOD:CORDS:HOURS[:PIECES[:THICKNESS]]"),
            got=text,
            next_move=T_(
                "Write it like splitting_maul:1.5:4, splitting_maul:1.5:4:700 or splitting_maul:1.5:4::5in."
            ),
        )
    by_size = None
    if len(parts) == 5:
        thickness = parse_length(parts[4], "session", low=THICKNESS_M[0], high=THICKNESS_M[1])
        by_size = cut.expected_pieces(thickness, TIMED_LENGTH_M)
    counted = len(parts) > 3 and parts[3] != ""
    return cut.Session(
        _method_id(parts[0]),
        parse_number(parts[1], "session", low=0.01, high=1000.0),
        parse_number(parts[2], "session", low=0.01, high=1000.0),
        parse_count(parts[3], "session", low=1, high=1_000_000) if counted else None,
        by_size=by_size,
    )


def _voice(language: str, units: str) -> Voice:
    from rickyard.show import LOCALES

    _choice("units", units, ("imperial", "metric"))
    _choice("language", language, tuple(LOCALES))
    return Voice(language, units)


def _choice(field: str, got: str, names: tuple[str, ...]) -> None:
    if got not in names:
        raise InputError(
            field,
            wanted=T_("one of {names}", names=", ".join(names)),
            got=got,
            next_move=T_("Choose one of them."),
        )


def _text(path: Path, field: str) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            field,
            wanted=T_("a text file in UTF-8"),
            got=str(path),
            next_move=T_("Save the list as CSV in UTF-8 and give it again."),
        ) from error
    except OSError as error:
        raise InputError(
            field,
            wanted=T_("a file that can be read"),
            got=str(path),
            next_move=T_("{why}. Give another path.", why=error.strerror or str(error)),
        ) from error


def _write(files: list[tuple[Path, bytes]]) -> None:
    """Writes each beside its name first, so that nothing stands half-written under it."""
    parts: list[tuple[Path, Path]] = []
    at = Path()
    try:
        for at, body in files:
            part = at.with_name(f".{at.name}.part")
            parts.append((part, at))
            part.write_bytes(body)
        for part, at in parts:
            os.replace(part, at)
    except OSError as error:
        for part, _ in parts:
            part.unlink(missing_ok=True)
        raise InputError(
            "pdf" if at.suffix == ".pdf" else "svg",
            wanted=T_("a file that can be written"),
            got=str(at),
            next_move=T_("{why}. Give another path.", why=error.strerror or str(error)),
        ) from error


__all__ = ["add_to", "cut_plan", "split_plan"]
