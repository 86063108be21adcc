"""What lists may hold: one table of columns a kind, with the words that stand above them, English and French.

The same table reads a list, offers the choice of columns and makes the empty example.
The first two names of a column are those of the examples.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rickyard.text import T_, Text
from rickyard.wood import plain

Kind = Literal["households", "stock", "prices"]
Size = Literal["", "short", "long"]
Basis = Literal["", "any", "wet", "dry"]

UNITS = ("mm", "cm", "m", "in", "ft")
"""Units that the name of a column, or whoever sends the list, may say for figures without one."""

KINDS: dict[str, Text] = {
    "households": T_("Households"),
    "stock": T_("Stacks that stand here already"),
    "prices": T_("Price list"),
}


@dataclass(frozen=True)
class Column:
    """A column that a list may have.

    Attributes
    ----------
    id
        Stable name, for commands and programs.
    names
        What may stand above it, parted by bars; compared without case, accents and blanks.
    needed
        Whether a list without it is not taken.
    size
        Whether it holds lengths of pieces (`short`) or of stacks (`long`).
    basis
        Whether it holds moistures, and what their percent is of; `any`: each cell says so.
    joined
        What is put between the cells of several such columns; "" where there can be one only.
    example
        What the example's line holds, English and French.
    unit
        Unit of the example, English and French.
    what
        What it is about without its basis.
    """

    id: str
    label: Text
    names: str
    needed: bool = False
    size: Size = ""
    basis: Basis = ""
    joined: str = ""
    example: tuple[str, str] = ("", "")
    unit: tuple[str, str] = ("", "")
    what: Text | None = None

    @property
    def plainly(self) -> Text:
        """Its label where the basis is told by the value."""
        return self.what or self.label

    @property
    def fact(self) -> str:
        """What it says, whatever its basis: both columns of a moisture say the same thing."""
        return self.id.removesuffix("_wet").removesuffix("_dry") if self.basis else self.id

    def head(self, french: bool) -> str:
        name, unit = self.names.split("|")[french], self.unit[french]
        return f"{name} ({unit})" if unit else name


def _moisture(
    name: str, label: Text, heads: tuple[str, str], others: str, example: str
) -> tuple[Column, ...]:
    """Three columns for one moisture: its basis in each cell, of total mass, of dry mass."""
    english, french = heads
    both = f"{english}|{french}|{others}".split("|")

    def named(*tails: str) -> str:
        return "|".join(f"{head} {tail}" for tail in tails for head in both)

    wet = named("of total mass", "wet", "wet basis", "sur brut", "humide", "% of total mass", "% sur brut")
    wet = f"{english} (% of total mass)|{french} (% de la masse totale)|{wet}"
    dry = named("of dry mass", "dry", "dry basis", "sur sec", "% of dry mass", "% sur sec")
    return (
        Column(
            f"{name}_wet", T_("{what}, of total mass", what=label), wet, basis="wet", example=(example,) * 2
        ),
        Column(f"{name}_dry", T_("{what}, of dry mass", what=label), dry, basis="dry"),
        Column(
            name, T_("{what}, the basis in each cell", what=label), "|".join(both), basis="any", what=label
        ),
    )


HOUSEHOLDS = (
    Column(
        "name",
        T_("Name"),
        "name|nom|customer|client|household|ménage|foyer|customer name|client name|nom du client|full name|nom complet"
        "|family|famille|family name|last name|surname|nom de famille|first name|given name|prénom|who|buyer|acheteur",
        needed=True,
        joined=" ",
        example=("Alder Brook (example)", "Ruisseau des Aulnes (exemple)"),
    ),
    Column(
        "address",
        T_("Address"),
        "address|adresse|delivery address|adresse de livraison|where|où|street|street address|rue|road|chemin|civic"
        "|city|town|village|ville|municipality|municipalité|postal code|zip|zip code|code postal|address 1|address 2"
        "|adresse 1|adresse 2|address line 1|address line 2|province|state|place|lieu",
        joined=", ",
        example=("12 Mill Lane, Riverbank", "12, chemin du Moulin, La Rive"),
    ),
    Column(
        "phone",
        T_("Phone"),
        "phone|téléphone|telephone|tel|tél|phone number|numéro de téléphone|mobile|cell|cell phone|cellulaire|portable",
        joined=" / ",
        example=("506 555 0142", "506 555 0142"),
    ),
    Column(
        "note",
        T_("Note"),
        "note|remarque|notes|remarks|remark|remarques|comment|comments|commentaire|commentaires|directions|access|accès",
        joined="; ",
        example=("stack it behind the shed, dog is friendly", "empiler derrière la remise"),
    ),
)

PRICES = (
    Column(
        "name",
        T_("Name"),
        "name|nom|ware|produit|product|article|item|what|quoi|description|désignation|wood sold|bois vendu",
        needed=True,
        example=("Dry hardwood, 16 in (example)", "Feuillus secs, 40 cm (exemple)"),
    ),
    Column(
        "wood",
        T_("Kinds of wood"),
        "kinds of wood|essences|species|essence|wood|bois|woods|kind of wood|kinds|tree|trees|arbres|essence de bois",
        example=("sugar maple; yellow birch", "érable à sucre; bouleau jaune"),
    ),
    Column(
        "form",
        T_("Pieces"),
        "pieces|morceaux|form|forme|split or round|fendu ou rond|piece|shape",
        example=("split", "fendu"),
    ),
    Column(
        "length",
        T_("Length of the pieces"),
        "length|longueur|piece length|longueur des morceaux|length of the pieces|cut length|log length|long|len",
        needed=True,
        size="short",
        example=("16", "40"),
        unit=("in", "cm"),
    ),
    Column(
        "tolerance",
        T_("Longer or shorter by up to"),
        "tolerance|tolérance|length tolerance|plus or minus|longer or shorter by|plus ou moins|écart",
        size="short",
        example=("2", "5"),
        unit=("in", "cm"),
    ),
    *_moisture(
        "moisture",
        T_("Sold at or below"),
        ("moisture", "humidité"),
        "max moisture|humidité max|humidité maximale|maximum moisture|mc|moisture content|teneur en eau|dryness",
        "20",
    ),
    Column(
        "price",
        T_("Price"),
        "price|prix|amount|montant|cost|coût|unit price|prix unitaire|rate|tarif",
        needed=True,
        example=("420", "115"),
    ),
    Column(
        "unit",
        T_("Price for one"),
        "per|pour un|unit|unité|price for one|price per|prix pour|price unit|unité de prix|sold by|vendu par|uom"
        "|measure|mesure",
        example=("cord", "m³ apparents"),
    ),
    Column(
        "active",
        T_("For sale"),
        "for sale|en vente|active|actif|available|disponible|on sale|in stock|en stock",
        example=("yes", "oui"),
    ),
)

STOCK = (
    Column(
        "name",
        T_("Name of the stack"),
        "stack|corde|name|nom|stack name|nom de la pile|pile|tas|row name|heap|bin|id|no|number|numéro|label",
        needed=True,
        example=("Example 1", "Exemple 1"),
    ),
    Column(
        "wood",
        T_("Which wood"),
        "wood|bois|species|essence|essences|mix|mélange|which wood|kind of wood|kinds of wood|tree|trees",
        needed=True,
        example=("maple and yellow birch 60/40", "érable à sucre et bouleau jaune 60/40"),
    ),
    Column(
        "kind",
        T_("Piled as"),
        "piled as|empilé en|kind|sorte|type|piled|stowed|rangement|how it lies",
        example=("stack", "pile"),
    ),
    Column("form", T_("Pieces"), "pieces|morceaux|form|forme|shape", example=("split", "fendu")),
    Column(
        "piece_length",
        T_("Length of the pieces"),
        "piece length|longueur des morceaux|length of the pieces|cut length|length of pieces|piece|long. morceaux"
        "|longueur du bois",
        needed=True,
        size="short",
        example=("16", "40"),
        unit=("in", "cm"),
    ),
    Column(
        "thickness",
        T_("Thickness of the pieces"),
        "thickness|épaisseur|thickness of the pieces|épaisseur des morceaux|piece thickness|thick|diameter|diamètre",
        needed=True,
        size="short",
        example=("5", "12"),
        unit=("in", "cm"),
    ),
    Column(
        "length",
        T_("Length"),
        "length|longueur|stack length|longueur de la pile|outside length|longueur extérieure|row length|len|outside"
        "|dehors",
        size="long",
        example=("20", "6"),
        unit=("ft", "m"),
    ),
    Column(
        "height",
        T_("Height"),
        "height|hauteur|stack height|hauteur de la pile|outside height|heights|hauteurs|high|haut",
        size="long",
        example=("4.5", "1,4"),
        unit=("ft", "m"),
    ),
    Column(
        "rows",
        T_("Rows one behind the other"),
        "rows|rangs|rangées|rows deep|number of rows|nombre de rangées|tiers|deep",
        example=("2", "2"),
    ),
    Column(
        "volume",
        T_("Outside volume"),
        "volume|volume extérieur|how much|combien|quantity|quantité|cords|cordes|amount|outside volume|qty",
        example=("", ""),
    ),
    Column(
        "stacked_on",
        T_("Stacked on"),
        "stacked on|empilé le|stacked|empilé|date|date stacked|day|jour|since|depuis|date of stacking|cordé le",
        needed=True,
        example=("2026-04-18", "2026-04-18"),
    ),
    Column("cover", T_("Cover"), "cover|couverture|covered|couvert|roof|toit", example=("top", "dessus")),
    Column("exposure", T_("Wind"), "wind|vent|exposure|exposition", example=("normal", "normal")),
    Column(
        "ground",
        T_("Stands on"),
        "stands on|repose sur|ground|sol|base|underneath|dessous",
        example=("raised", "surélevé"),
    ),
    Column("bark", T_("Bark left on"), "bark|écorce|bark on|bark left on", example=("yes", "oui")),
    *_moisture(
        "start_moisture",
        T_("Moisture when stacked"),
        ("start moisture", "humidité au départ"),
        "moisture when stacked|humidité à l'empilage|moisture|humidité|mc",
        "",
    ),
    Column(
        "row",
        T_("Place in the yard"),
        "place in the yard|place dans la cour|row|rang|row label|place|emplacement|where|où|location|spot",
        example=("north fence", "clôture nord"),
    ),
    Column(
        "harvest",
        T_("Where the trees stood"),
        "harvested in|récolté à|where the trees stood|place of harvest|lieu de récolte|harvest|récolte|region|région"
        "|province|state|état|origin|origine|provenance",
        example=("CA-NB", "CA-NB"),
    ),
    Column(
        "county",
        T_("County or parish they stood in"),
        "county|comté|parish|paroisse|county or parish",
        example=("York", "York"),
    ),
    Column(
        "certificate",
        T_("Certificate number"),
        "certificate|certificat|certificate number|numéro de certificat|treatment certificate|permit|permis",
    ),
    Column(
        "note", T_("Note"), "note|remarque|notes|remark|remarks|comment|comments|commentaire", joined="; "
    ),
)

COLUMNS: dict[str, tuple[Column, ...]] = {"households": HOUSEHOLDS, "stock": STOCK, "prices": PRICES}

_UNIT_WORDS = {
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "metre": "m",
    "metres": "m",
    "in": "in",
    "inch": "in",
    "inches": "in",
    "po": "in",
    "pouces": "in",
    '"': "in",
    "ft": "ft",
    "feet": "ft",
    "foot": "ft",
    "pi": "ft",
    "pieds": "ft",
    "'": "ft",
}
_TAIL = re.compile(r"^(?P<head>.*?)[\s_\-(\[,:]+(?P<unit>[^\W\d_]+|['\"])[)\]]?\s*$")
_BRACKETS = re.compile(r"\s*[(\[][^)\]]*[)\]]")


def column(kind: str, column_id: str) -> Column | None:
    return next((known for known in COLUMNS[kind] if known.id == column_id), None)


def unit_in(head: str) -> str:
    """The unit of length that the name of a column ends with; "" if it says none."""
    found = _TAIL.match(head.strip())
    return _UNIT_WORDS.get(plain(found["unit"]) or found["unit"], "") if found else ""


def meaning_of(kind: str, head: str) -> str:
    """Id of the column that a name means; "" if we know none such."""
    known = {plain(name): item.id for item in COLUMNS[kind] for name in reversed(item.names.split("|"))}
    sized = {item.id for item in COLUMNS[kind] if item.size}
    whole = head.strip()
    if plain(whole) in known:
        return known[plain(whole)]
    found = _TAIL.match(whole)
    if found and unit_in(whole) and known.get(plain(found["head"]), "") in sized:
        return known[plain(found["head"])]
    tries = [_BRACKETS.sub("", whole), *re.split(r"[/|:]", whole), re.split(r"\s+(?:per|par)\s+|/", whole)[0]]
    return next((known[plain(part)] for part in tries if plain(part) in known), "")


def guess(kind: str, heads: Sequence[str]) -> tuple[str, ...]:
    """Which column each name means; one that is there already is not taken twice, unless such cells are joined."""
    taken: set[str] = set()
    found: list[str] = []
    for head in heads:
        meaning = meaning_of(kind, head)
        item = column(kind, meaning) if meaning else None
        if item is None or (item.fact in taken and not item.joined):
            found.append("")
            continue
        taken.add(item.fact)
        found.append(meaning)
    return tuple(found)
