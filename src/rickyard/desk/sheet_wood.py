"""The parts of a sheet that tell of the wood: heat, drying, splitting, burning, lasting, and what it is good for."""

from __future__ import annotations

import math

from rickyard import heat
from rickyard.desk.sheet_rows import Claim, Footnotes, Part, Row
from rickyard.measure import BTU_J, CORD_M3, LB_KG, TO_10_90, Spread
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.wood import ServiceLife, Species, get_species, service_life, wet_from_db

DECAY: dict[str, Text] = {
    "R+": T_("resists decay exceptionally well"),
    "R": T_("resists decay well"),
    "M": T_("resists decay fairly"),
    "S": T_("resists decay little or not at all"),
}
_FIRE = ("starting", "burning", "smoke", "sparks", "coals", "fragrance", "overall")


def parts(voice: Voice, wood: Species, notes: Footnotes) -> list[Part]:
    """All that is known of a wood, in the order of a sheet."""
    rated = heat.burning(wood)
    lives = service_life(wood, wood.id if wood.rank == "genus" else wood.id.partition("_")[0])
    return [
        _heat(voice, wood, notes),
        _drying(voice, wood, notes),
        _rated("splitting", voice.text(T_("Splitting")), voice, rated, ("splitting",), notes),
        _rated("burning", voice.text(T_("In the fire")), voice, rated, _FIRE, notes),
        _lasting(voice, wood, lives, notes),
        _uses(voice, rated, lives, notes),
    ]


def _heat(voice: Voice, wood: Species, notes: Footnotes) -> Part:
    row = heat.heat_row(wood)
    refs = (notes.text(row.density_source), notes.text(row.hhv_source))
    spread = Spread(low=row.low, mid=row.mj_per_cord, high=row.high)
    if voice.metric:
        per_m3 = spread.scaled(1.0 / CORD_M3)
        amount = voice.range(per_m3.low, per_m3.mid, per_m3.high, "kWh")
        label = T_("Heat of a stacked m³")
    else:
        amount = voice.range(spread.low, spread.mid, spread.high, "million_btu")
        label = T_("Heat of a cord")
    mass = _mass(wood, row).scaled(1.0 / CORD_M3 if voice.metric else 1.0)
    solid = (
        voice.amount(row.solid_m3_per_cord / CORD_M3, "m3")
        if voice.metric
        else voice.amount(row.solid_m3_per_cord, "ft3")
    )
    weight = voice.text(
        T_(
            "{mid} ({low} to {high})",
            mid=voice.mass(mass.mid),
            low=voice.mass(mass.low),
            high=voice.mass(mass.high),
        )
    )
    of_mass = heat.heat_value(wood).sd_share(row.moisture_wet, row.basis)
    least, usual, most = (row.mj_per_kg * math.exp(side * TO_10_90 * of_mass) for side in (-1.0, 0.0, 1.0))
    if voice.metric:
        of_weight = T_("{amount} a kilogram", amount=voice.range(least, usual, most, "kWh", 2))
    else:
        low, mid, high = (voice.number(mj * 1e6 * LB_KG / BTU_J) for mj in (least, usual, most))
        of_weight = T_("{mid} Btu a pound ({low} to {high})", low=low, mid=mid, high=high)
    sd = wood.basic_density_sd_kg_m3 * TO_10_90
    density = voice.text(
        T_(
            "{mid} ({low} to {high})",
            mid=voice.density(wood.basic_density_kg_m3),
            low=voice.density(wood.basic_density_kg_m3 - sd),
            high=voice.density(wood.basic_density_kg_m3 + sd),
        )
    )
    convention = voice.text(
        T_(
            "Net heat at {moisture}, {solid} of solid wood without bark in it.",
            moisture=voice.moisture(row.moisture_wet),
            solid=solid,
        )
    )
    return Part(
        "heat",
        voice.text(T_("Heat")),
        (
            Row("heat", voice.text(label), (Claim(amount, refs),), convention),
            Row("heat_kg", voice.text(T_("Heat of its weight")), (Claim(voice.text(of_weight), refs[1:]),)),
            Row(
                "mass",
                voice.text(T_("Weight of a stacked m³") if voice.metric else T_("Weight of a cord")),
                (Claim(weight, refs[:1]),),
                voice.text(T_("At the same moisture.")),
            ),
            Row(
                "density",
                voice.text(T_("Density")),
                (Claim(density, refs[:1]),),
                voice.text(T_("Oven-dry mass over green volume.")),
            ),
        ),
    )


def _mass(wood: Species, row: heat.HeatRow) -> Spread:
    """Mass of a cord [kg]: density and the solid content of a cord vary."""
    solid = heat.SOLID_M3_PER_CORD
    sd = math.hypot(
        wood.basic_density_sd_kg_m3 / wood.basic_density_kg_m3,
        math.log(solid.high / solid.low) / (2.0 * TO_10_90),
    )
    factor = math.exp(TO_10_90 * sd)
    return Spread(low=row.kg_per_cord / factor, mid=row.kg_per_cord, high=row.kg_per_cord * factor)


def _drying(voice: Voice, wood: Species, notes: Footnotes) -> Part:
    """How wet it is when felled and what it shrinks; how long it takes is added where it is known (`drying`)."""
    sd = wood.green_mc_db_sd * TO_10_90
    low, high = max(0.0, wood.green_mc_db - sd), wood.green_mc_db + sd
    green = voice.text(
        T_(
            "{both}; {low} to {high} of dry mass",
            both=voice.moisture(wet_from_db(wood.green_mc_db)),
            low=voice.percent(low),
            high=voice.percent(high),
        )
    )
    rows = [
        Row(
            "green",
            voice.text(T_("Water when felled")),
            (Claim(green, (notes.text(wood.sources["green_mc_db"]),)),),
        ),
        Row(
            "shrinkage",
            voice.text(T_("Shrinks, green to oven-dry")),
            (
                Claim(
                    voice.text(
                        T_(
                            "{share} of its volume ({low} to {high})",
                            share=voice.percent(wood.shrinkage_vol_pct / 100.0, 1),
                            low=voice.percent(
                                (wood.shrinkage_vol_pct - TO_10_90 * wood.shrinkage_vol_sd_pct) / 100.0, 1
                            ),
                            high=voice.percent(
                                (wood.shrinkage_vol_pct + TO_10_90 * wood.shrinkage_vol_sd_pct) / 100.0, 1
                            ),
                        )
                    ),
                    (notes.text(wood.sources["shrinkage_vol_pct"]),),
                ),
            ),
        ),
    ]
    return Part("drying", voice.text(T_("Drying")), tuple(rows))


_Rated = dict[str, list[tuple[heat.Rating, Species]]]


def _rated(
    part: str, title: str, voice: Voice, rated: _Rated, qualities: tuple[str, ...], notes: Footnotes
) -> Part:
    """One row for each quality; sources that differ stand beside one another."""
    rows = [
        Row(
            quality,
            voice.text(heat.QUALITIES[quality]),
            _claims(voice, rated[quality], notes),
            _of_whom(voice, rated[quality]),
        )
        for quality in qualities
        if quality in rated
    ]
    said = () if rows else (voice.text(T_("No source that was read rates it.")),)
    return Part(part, title, tuple(rows), notes=said)


def _claims(voice: Voice, ratings: list[tuple[heat.Rating, Species]], notes: Footnotes) -> tuple[Claim, ...]:
    quality = ratings[0][0].quality
    return tuple(
        Claim(
            voice.text(heat.RATINGS[quality][name]),
            tuple(dict.fromkeys(notes.text(rating.source.short) for rating, _ in said)),
        )
        for name, said in heat.by_rating(ratings)
    )


def _of_whom(voice: Voice, ratings: list[tuple[heat.Rating, Species]]) -> str:
    """That sources disagree, and that they speak of a wider name than the tree."""
    said = []
    if len(heat.by_rating(ratings)) > 1:
        said.append(voice.text(T_("The sources disagree.")))
    wider = {voice.species(of): None for rating, of in ratings if of.rank != "species"}
    if wider:
        said.append(voice.text(T_("Said of: {wood}.", wood=voice.list_of(wider))))
    return " ".join(said)


def _lasting(voice: Voice, wood: Species, lives: tuple[ServiceLife, ...], notes: Footnotes) -> Part:
    rows = []
    if wood.decay_class is not None:
        words = voice.text(DECAY[wood.decay_class])
        source = (
            wood.sources["decay_class"]
            if wood.rank == "species"
            else get_species(wood.members[0]).sources["decay_class"]
        )
        rows.append(
            Row(
                "decay",
                voice.text(T_("Heartwood")),
                (Claim(words, (notes.text(source),)),),
                voice.text(T_("Sapwood of every tree rots soon.")),
            )
        )
    if wood.decay_class_en350:
        rows.append(
            Row(
                "en350",
                voice.text(T_("Class of EN 350")),
                (
                    Claim(
                        voice.text(T_("{grade} (1 lasts longest, 5 least)", grade=wood.decay_class_en350)),
                        (notes.text(wood.sources["decay_class_en350"]),) if wood.rank == "species" else (),
                    ),
                ),
            )
        )
    for place, life in enumerate(lives):
        said = T_("{years}; {where}", years=voice.gettext(life.says), where=voice.gettext(life.where))
        label = T_("Fence posts without treatment") if life.use == "post" else T_("Above the ground")
        of_whom = T_("Said of: {wood}.", wood=voice.species(get_species(life.of)))
        rows.append(
            Row(
                f"life-{place}",
                voice.text(label),
                (Claim(voice.text(said), (notes.text(life.source),)),),
                "" if life.of == wood.id else voice.text(of_whom),
            )
        )
    missing = () if rows else (voice.text(T_("How it resists decay was not found.")),)
    return Part("lasting", voice.text(T_("How it lasts")), tuple(rows), notes=missing)


def _uses(voice: Voice, rated: _Rated, lives: tuple[ServiceLife, ...], notes: Footnotes) -> Part:
    """What its ratings and trials say it is good for, and nothing that they do not say."""
    rows = []

    def of(quality: str, *good: str) -> tuple[Claim, ...]:
        """The claims that speak for a use; none if a source speaks against it."""
        ratings = rated.get(quality, [])
        if not ratings or any(rating.rating not in good for rating, _ in ratings):
            return ()
        return _claims(voice, ratings, notes)

    lights, splits = of("starting", "easy"), of("splitting", "easy")
    coals = of("coals", "good", "good-excellent", "excellent")
    if lights and splits:
        refs = tuple(dict.fromkeys(ref for claim in (*lights, *splits) for ref in claim.refs))
        rows.append(("kindling", T_("Kindling"), T_("it splits easily and lights easily"), refs))
    elif lights:
        rows.append(("starter", T_("To start a fire"), T_("it lights easily"), lights[0].refs))
    if coals and any(rating.rating == "excellent" for rating, _ in rated["coals"]):
        refs = tuple(dict.fromkeys(ref for claim in coals for ref in claim.refs))
        rows.append(("overnight", T_("A long fire"), T_("its coals are rated good or excellent"), refs))
    posts = tuple(notes.text(life.source) for life in lives if life.use == "post")
    if posts:
        rows.append(("posts", T_("Fence posts"), T_("see how it lasts"), tuple(dict.fromkeys(posts))))
    if any(rating.rating == "many" for rating, _ in rated.get("sparks", [])):
        refs = tuple(
            dict.fromkeys(
                notes.text(rating.source.short) for rating, _ in rated["sparks"] if rating.rating == "many"
            )
        )
        rows.append(
            ("no_hearth", T_("Not for an open fireplace"), T_("it throws sparks, by some sources"), refs)
        )
    return Part(
        "uses",
        voice.text(T_("What it is good for")),
        tuple(
            Row(key, voice.text(label), (Claim(voice.text(words), refs),)) for key, label, words, refs in rows
        ),
    )
