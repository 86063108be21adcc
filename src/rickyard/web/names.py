"""What the book's short words are called on the screen."""

from __future__ import annotations

from rickyard.text import T_, Text

NAMES: dict[str, dict[str, Text]] = {
    "country": {"CA": T_("Canada"), "US": T_("United States")},
    "currency": {
        "CAD": T_("Canadian dollar"),
        "USD": T_("US dollar"),
        "EUR": T_("euro"),
        "GBP": T_("pound sterling"),
    },
    "locale": {
        "en_CA": T_("English (Canada)"),
        "fr_CA": T_("French (Canada)"),
        "en_US": T_("English (United States)"),
        "en_GB": T_("English (Britain)"),
        "fr_FR": T_("French (France)"),
    },
    "units": {
        "imperial": T_("cords, feet, inches, pounds"),
        "metric": T_("cubic metres, centimetres, kilograms"),
    },
    "kind": {"stack": T_("stack"), "heap": T_("loose heap"), "bin": T_("bin")},
    "kind_help": {
        "stack": T_("Stack: pieces laid side by side in rows"),
        "heap": T_("Loose heap: thrown on the ground"),
        "bin": T_("Bin: thrown into a crate or crib"),
    },
    "form": {"split": T_("split"), "round": T_("round"), "kindling": T_("kindling")},
    "cover": {"none": T_("no cover"), "top": T_("top covered"), "shed": T_("in a shed")},
    "ground": {"raised": T_("poles, pallets or gravel"), "soil": T_("bare soil")},
    "exposure": {"sheltered": T_("sheltered"), "normal": T_("open"), "windy": T_("windy")},
    "layer": {"top": T_("top"), "middle": T_("middle"), "bottom": T_("bottom")},
    "reading": {"meter": T_("pin meter"), "oven": T_("oven sample"), "weighed": T_("weighed pieces")},
    "face": {"split": T_("into a freshly split face"), "surface": T_("into the outside")},
    "trust": {"right": T_("confirmed"), "aside": T_("set aside")},
    "measure": {
        "mark": T_("Mark pieces and make an oven sample"),
        "oven": T_("Make an oven sample"),
        "weigh": T_("Weigh the marked pieces"),
        "meter": T_("Read it with a pin meter"),
    },
    "known_by": {
        "leaf": T_("by its leaves, later"),
        "wood": T_("by the wood, once it was split"),
        "expert": T_("somebody who knows trees said so"),
        "known": T_("known from where it was felled"),
    },
    "thickness_class": {
        "fine": T_("finely split"),
        "middle": T_("split as usual"),
        "coarse": T_("coarsely split"),
    },
    "detail": {"rough": T_("taken in whole"), "logs": T_("log by log"), "opening": T_("opening stock")},
    "state": {
        "asked": T_("asked"),
        "promised": T_("promised"),
        "delivered": T_("delivered"),
        "cancelled": T_("cancelled"),
    },
    "method": {
        "cash": T_("cash"),
        "transfer": T_("bank transfer"),
        "card": T_("card"),
        "cheque": T_("cheque"),
    },
    "price_unit": {"cord": T_("cord"), "stacked_m3": T_("stacked m³"), "loose_m3": T_("loose m³")},
    "formula": {
        "huber": T_("Huber's formula (middle)"),
        "smalian": T_("Smalian's formula (both ends)"),
        "newton": T_("Newton's formula (middle and ends)"),
    },
    "entry": {
        "opening": T_("opening stock"),
        "take_in": T_("came in"),
        "name": T_("wood named"),
        "stack": T_("cut and stacked"),
        "remeasure": T_("measured again"),
        "empty": T_("closed"),
        "deliver": T_("delivered"),
        "gate_sale": T_("sold at the gate"),
        "reverse": T_("taken back"),
    },
    "found": {
        "rot": T_("rot"),
        "metal": T_("metal"),
        "fork": T_("a fork"),
        "crack": T_("a crack"),
        "crook": T_("a crook"),
        "other": T_("something else"),
    },
    "split_method": {
        "hydraulic_splitter": T_("hydraulic splitter"),
        "splitting_maul": T_("splitting maul"),
        "heavy_maul": T_("heavy maul"),
        "wedge_on_handle": T_("wedge on a handle"),
        "felling_axe": T_("felling axe"),
        "sledge_and_wedges": T_("sledge and wedges"),
        "wedge_on_stand": T_("wedge on a stand"),
        "processor": T_("firewood processor, cutting included"),
    },
    "readiness": {
        "ready": T_("ready"),
        "soon": T_("ready soon"),
        "drying": T_("drying"),
        "wet": T_("wet"),
        "unknown": T_("no forecast yet"),
    },
}

# Reasons that the desk itself writes into the journal; a reason that a person gave is shown as typed.
REASONS: dict[str, Text] = {
    "logs and stack measured: joined by their spreads": T_(
        "logs and stack measured: joined by their spreads"
    ),
    "stock-taking: measured again": T_("stock-taking: measured again"),
}
