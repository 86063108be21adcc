"""Says numbers, measures, days and money the way one user reads them.

A `Voice` is made once per request from the user's locale and units; templates call its methods.
Numbers follow CLDR; trade units, which CLDR lacks, are ours (`rickyard.show.symbols`).
Between a number and its unit stands a no-break space.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from babel import Locale, dates, lists, numbers

from rickyard.measure.units import (
    CORD_M3,
    FT3_M3,
    FT_M,
    IN_M,
    KWH_MJ,
    LB_KG,
    MILLION_BTU_MJ,
)
from rickyard.show import words
from rickyard.show.pseudo import PSEUDO_LOCALE, accent
from rickyard.text import T_, Quantity, Text

NBSP = "\u00a0"
Day = date  # inside the class `date` is a method
Spoken = Callable[[float], str]

# id -> (SI amount of one unit, symbol in English, symbol in French)
_SYMBOLS: dict[str, tuple[float, str, str]] = {
    "m": (1.0, "m", "m"),
    "cm": (0.01, "cm", "cm"),
    "mm": (0.001, "mm", "mm"),
    "km": (1000.0, "km", "km"),
    "ft": (FT_M, "ft", "pi"),
    "in": (IN_M, "in", "po"),
    "mi": (1609.344, "mi", "mi"),
    "m3": (1.0, "m³", "m³"),
    "ft3": (FT3_M3, "ft³", "pi³"),
    "dm3": (0.001, "dm³", "dm³"),
    "L": (0.001, "L", "L"),
    "kg": (1.0, "kg", "kg"),
    "lb": (LB_KG, "lb", "lb"),
    "t": (1000.0, "t", "t"),
    "MJ": (1.0, "MJ", "MJ"),
    "GJ": (1000.0, "GJ", "GJ"),
    "kWh": (KWH_MJ, "kWh", "kWh"),
    "kg_m3": (1.0, "kg/m³", "kg/m³"),
    "lb_ft3": (LB_KG / FT3_M3, "lb/ft³", "lb/pi³"),
    "MJ_kg": (1.0, "MJ/kg", "MJ/kg"),
    "m_s": (1.0, "m/s", "m/s"),
    "km_h": (1 / 3.6, "km/h", "km/h"),
}

# Units with a word in them; the word is translated, the amount is SI per unit.
_WORDED: dict[str, float] = {
    "stacked_m3": 1.0,
    "loose_m3": 1.0,
    "solid_m3": 1.0,
    "stacked_ft3": FT3_M3,
    "loose_ft3": FT3_M3,
    "solid_ft3": FT3_M3,
    "million_btu": MILLION_BTU_MJ,
}


@dataclass(frozen=True)
class Voice:
    """How one user is spoken to.

    Parameters
    ----------
    locale
        `en_CA`, `fr_CA`, `en_US`, `fr_FR`, `en_GB`, or `en_XA` for the pseudo-language.
    units
        "imperial" (cords, inches, pounds, million Btu) or "metric".
    currency
        ISO code; amounts are integers of its minor unit.
    timezone
        IANA name of the yard's zone, in which moments are told.
    """

    locale: str = "en_CA"
    units: str = "imperial"
    currency: str = "CAD"
    timezone: str = "UTC"

    # -- words --------------------------------------------------------------------------------
    @property
    def cldr(self) -> Locale:
        return words.babel_locale(self.locale)

    @property
    def html_lang(self) -> str:
        """Value for the `lang` attribute."""
        return "en" if self.locale == PSEUDO_LOCALE else self.locale.replace("_", "-")

    @property
    def metric(self) -> bool:
        return self.units == "metric"

    def text(self, text: Text | str) -> str:
        """A `Text` in the user's language; a plain string is data and stays."""
        return words.translate(self._in_units(text) if isinstance(text, Text) else text, self.locale)

    def _in_units(self, text: Text) -> Text:
        """The same with its quantities in the user's units."""
        said = {
            name: self._quantity(value)
            if isinstance(value, Quantity)
            else self._in_units(value)
            if isinstance(value, Text)
            else value
            for name, value in text.values.items()
        }
        return Text(text.msgid, said)

    def _quantity(self, given: Quantity) -> str:
        if given.kind == "outside":
            return self.amount(given.value, "m3" if self.metric else "ft3")
        if given.kind == "tall":
            return self.amount(given.value, "m" if self.metric else "ft", 0)
        if given.kind == "mass":
            return self.mass(given.value)
        if given.kind == "size":
            small = abs(given.value) < 0.6
            return self.amount(
                given.value, ("cm" if small else "m") if self.metric else "in" if small else "ft"
            )
        return self.dimension(given.value)

    def gettext(self, message: str) -> str:
        return words.gettext(message, self.locale)

    def ngettext(self, singular: str, plural: str, n: int) -> str:
        return words.ngettext(singular, plural, n, self.locale)

    def pgettext(self, context: str, message: str) -> str:
        return words.pgettext(context, message, self.locale)

    def species(self, species: words.HasNames) -> str:
        return words.species_name(species, self.locale)

    def list_of(self, items: Iterable[str]) -> str:
        """a, b and c."""
        found = list(items)
        # The joining words are CLDR's, the items are not: they are put in afterwards.
        marks = [chr(0xE000 + index) for index in range(len(found))]
        joined = self._cldr_words(lists.format_list(marks, locale=self.cldr))
        return "".join(found[ord(sign) - 0xE000] if sign in marks else sign for sign in joined)

    def shares(self, shares: Iterable[tuple[str, float]]) -> str:
        """60% sugar maple, 40% yellow birch; the largest first; a share alone is the name alone."""
        ordered = sorted(shares, key=lambda item: -item[1])
        if len(ordered) == 1:
            return ordered[0][0]
        return ", ".join(
            self.text(T_("{percent} {name}", percent=self.percent(share), name=name))
            for name, share in ordered
        )

    # -- numbers ------------------------------------------------------------------------------
    def number(self, value: float, significant: int = 3) -> str:
        """To so many significant figures, without trailing zeros; whole numbers of thousands stay grouped."""
        if value == 0 or not math.isfinite(value):
            return self.decimal(value, 0)
        digits = significant - 1 - math.floor(math.log10(abs(value)))
        return self.decimal(round(value, digits), max(0, digits), strip=True)

    def decimal(self, value: float, digits: int = 2, *, strip: bool = False) -> str:
        """With a fixed number of decimals, or at most that many when `strip`."""
        if not math.isfinite(value):
            return "–"
        exact = _exact(value, digits)
        pattern = "#,##0" + ("." + ("#" if strip else "0") * digits if digits else "")
        return numbers.format_decimal(exact, format=pattern, locale=self.cldr)

    def whole(self, value: float) -> str:
        return self.decimal(round(value), 0)

    def percent(self, share: float, digits: int = 0) -> str:
        """A fraction as a percent; for moisture use `moisture`, which says the basis."""
        pattern = self.cldr.percent_formats[None].pattern
        return numbers.format_percent(
            _exact(share, digits + 2),
            format=pattern.replace("0", "0." + "0" * digits) if digits else pattern,
            locale=self.cldr,
        )

    def money(self, minor: int, currency: str | None = None) -> str:
        """An amount of integer minor units."""
        code = currency or self.currency
        digits = numbers.get_currency_precision(code)
        return numbers.format_currency(Decimal(minor).scaleb(-digits), code, locale=self.cldr)

    def typed_amount(self, minor: float) -> str:
        """An amount as it is typed into a field: without the currency's sign, without groups of thousands."""
        digits = numbers.get_currency_precision(self.currency)
        pattern = "0" + ("." + "0" * digits if digits else "")
        return numbers.format_decimal(_exact(minor / 10**digits, digits), format=pattern, locale=self.cldr)

    def money_about(self, minor: float, currency: str | None = None) -> str:
        """An estimate of money: in whole units of the currency, without the last digits of what is large."""
        code = currency or self.currency
        amount = minor / 10 ** numbers.get_currency_precision(code)
        step = 1 if abs(amount) < 200 else 5 if abs(amount) < 1000 else 10
        pattern = self.cldr.currency_formats["standard"].pattern.replace("0.00", "0")
        # Rounded before it is said, so that no minus stands before a zero.
        rounded = Decimal(round(amount / step) * step)
        return numbers.format_currency(rounded, code, format=pattern, locale=self.cldr, currency_digits=False)

    # -- measures -----------------------------------------------------------------------------
    def amount(self, value_si: float, unit: str, digits: int | None = None) -> str:
        """A quantity given in SI, said in a named unit: `amount(0.4064, "in")` is 16 in.

        Without `digits`, two decimals below 10, one below 100, none above; trailing zeros dropped.
        """
        return self._with_unit(self._figure(value_si / self._size(unit), digits), value_si, unit)

    def range(self, low: float, mid: float, high: float, unit: str, digits: int | None = None) -> str:
        """An estimate with its 10th and 90th percentile: 2.1 cords (1.9 to 2.4)."""
        size = self._size(unit)
        shown = [self._figure(value / size, digits) for value in (low, high)]
        return self.text(
            T_(
                "{mid} ({low} to {high})",
                mid=self.amount(mid, unit, digits),
                low=shown[0],
                high=shown[1],
            )
        )

    def span(self, low: float, high: float, unit: str, digits: int | None = None) -> str:
        """1.9–2.4 cords."""
        size = self._size(unit)
        if self._figure(low / size, digits) == self._figure(high / size, digits):
            return self.amount(high, unit, digits)
        figure = f"{self._figure(low / size, digits)}–{self._figure(high / size, digits)}"
        return self._with_unit(figure, high, unit)

    def length(self, length_m: float) -> str:
        """Length of a piece: inches or centimetres."""
        return self.amount(length_m, "cm", 0) if self.metric else self.amount(length_m, "in", 1)

    def thickness(self, thickness_m: float) -> str:
        """Thickness or diameter: inches or centimetres, to a tenth."""
        return self.amount(thickness_m, "cm" if self.metric else "in", 1)

    def dimension(self, length_m: float) -> str:
        """A side of a stack: metres, or feet and inches; below two feet (a piece) inches only."""
        if self.metric:
            return self.amount(length_m, "m", 2)
        inches = round(length_m / IN_M)
        if inches < 24 and inches % 12:
            return self.amount(length_m, "in", 0)
        feet, rest = divmod(inches, 12)
        parts = [self.amount(feet * FT_M, "ft", 0)]
        if rest:
            parts.append(self.amount(rest * IN_M, "in", 0))
        return NBSP.join(parts)

    def dimensions(self, lengths_m: Sequence[float]) -> str:
        """8 ft × 4 ft × 16 in."""
        return f"{NBSP}× ".join(self.dimension(length) for length in lengths_m)

    def volume_unit(self, piled: str = "ranked") -> str:
        """Id of the unit this user thinks in: for ranked, loose or solid wood."""
        if piled == "ranked":
            return "stacked_m3" if self.metric else "cord"
        return {"loose": "loose", "solid": "solid"}[piled] + ("_m3" if self.metric else "_ft3")

    def volume(self, m3: float, piled: str = "ranked", *, both: bool = True) -> str:
        """Outside volume (or solid volume) of wood, in the user's unit; with `both`, the other too.

        Only ranked wood is told in cords: a cord is 128 ft³ of stack.
        """
        first = self.amount(m3, self.volume_unit(piled))
        if not both:
            return first
        other = Voice(self.locale, "imperial" if self.metric else "metric").volume_unit(piled)
        return self.text(T_("{one} ({other})", one=first, other=self.amount(m3, other)))

    def volume_range(self, low: float, mid: float, high: float, piled: str = "ranked") -> str:
        return self.range(low, mid, high, self.volume_unit(piled))

    def cords(self, m3: float) -> str:
        """In cords; halves, thirds and quarters as fractions: 1 1/2 cords, 1/3 cord."""
        return self.quantity(m3 / CORD_M3, "cord")

    def quantity(self, value: float, unit: str) -> str:
        """A quantity in its own unit, as typed or as sold: `quantity(1.5, "cord")` is 1 1/2 cords."""
        figure = self._fraction(value) if unit == "cord" else None
        size = self._size(unit)
        return self._with_unit(figure or self._figure(value, None), value * size, unit)

    def mass(self, mass_kg: float) -> str:
        """Pounds, or kilograms (tonnes from ten on)."""
        if not self.metric:
            return self._rough(mass_kg, "lb")
        return self._rough(mass_kg, "t" if abs(mass_kg) >= 10_000 else "kg")

    def heat(self, energy_mj: float, unit: str | None = None) -> str:
        """Million Btu, or megajoules (gigajoules from ten on); or the unit given (`kWh`)."""
        if unit is None:
            unit = ("GJ" if abs(energy_mj) >= 10_000 else "MJ") if self.metric else "million_btu"
        return self._rough(energy_mj, unit)

    def density(self, kg_m3: float) -> str:
        return self._rough(kg_m3, "kg_m3" if self.metric else "lb_ft3")

    def temperature(self, temp_c: float) -> str:
        """Degrees Celsius; Fahrenheit only for the United States in imperial units."""
        if self.locale == "en_US" and not self.metric:
            return f"{self.whole(temp_c * 1.8 + 32)}{NBSP}°F"
        return f"{self.whole(temp_c)}{NBSP}°C"

    def warmth(self, span_k: float, digits: int = 1) -> str:
        """A difference of temperatures, in the degrees of `temperature`."""
        if self.locale == "en_US" and not self.metric:
            return f"{self.decimal(span_k * 1.8, digits)}{NBSP}°F"
        return f"{self.decimal(span_k, digits)}{NBSP}°C"

    # -- moisture and odds --------------------------------------------------------------------
    def moisture(self, mc_wet: float, digits: int = 0) -> str:
        """With both bases: 20% of total mass (25% of dry mass)."""
        if not mc_wet < 1:
            raise ValueError(f"a wet-basis moisture is below 1: {mc_wet!r}")
        dry = mc_wet / (1 - mc_wet)
        return self.text(
            T_(
                "{wet} of total mass ({dry} of dry mass)",
                wet=self.percent(mc_wet, digits),
                dry=self.percent(dry, digits),
            )
        )

    def moisture_short(self, mc_wet: float, digits: int = 0) -> str:
        """20% wet, where `wet` is the wet basis: water / total mass."""
        return self.text(T_("{percent} wet", percent=self.percent(mc_wet, digits)))

    def moisture_dry(self, mc_db: float, digits: int = 0) -> str:
        """25% dry, where `dry` is the dry basis: water / oven-dry mass (what pin meters show)."""
        return self.text(T_("{percent} dry basis", percent=self.percent(mc_db, digits)))

    def moisture_range(self, low: float, mid: float, high: float) -> str:
        """20% wet (17% to 24%); wet basis, 10th to 90th percentile."""
        return self.text(
            T_(
                "{mid} ({low} to {high})",
                mid=self.moisture_short(mid),
                low=self.percent(low),
                high=self.percent(high),
            )
        )

    def odds(self, probability: float) -> str:
        """In words a person can weigh: 9 in 10, 19 in 20, almost certain."""
        if not 0 <= probability <= 1:
            raise ValueError(f"a probability lies between 0 and 1: {probability!r}")
        if probability >= 0.985:
            return self.text(T_("almost certain"))
        if probability < 0.015:
            return self.text(T_("almost no chance"))
        if probability >= 0.925:
            return self.text(T_("{part} in {whole}", part=19, whole=20))
        if probability < 0.075:
            return self.text(T_("{part} in {whole}", part=1, whole=20))
        tenths = min(9, max(1, math.floor(10 * probability + 0.5)))
        return self.text(T_("{part} in {whole}", part=tenths, whole=10))

    # -- days and times -----------------------------------------------------------------------
    def date(self, day: Day, style: str = "medium") -> str:
        """`short` is 2026-11-05 in Canada; `medium`, `long`, `full` as CLDR has them."""
        return self._cldr_words(dates.format_date(day, style, locale=self.cldr))

    def day(self, day: Day) -> str:
        """Weekday, day and month, for days near at hand: Thu, Nov 5."""
        return self._cldr_words(dates.format_skeleton("MMMEd", day, locale=self.cldr))

    def month(self, day: Day) -> str:
        """Month and year: November 2026."""
        return self._cldr_words(dates.format_skeleton("yMMMM", day, locale=self.cldr))

    def short_month(self, day: Day) -> str:
        """The month alone, short: Nov."""
        return self._cldr_words(dates.format_skeleton("MMM", day, locale=self.cldr))

    def time(self, moment: datetime) -> str:
        """Hour and minute in the yard's zone, on one line ("14 h" / "07" is no time of day)."""
        words = dates.format_time(self._here(moment), "short", locale=self.cldr)
        return self._cldr_words(words.replace(" ", "\u00a0"))

    def moment(self, moment: datetime) -> str:
        """Date and time in the yard's zone."""
        return self.text(
            T_("{date}, {time}", date=self.date(self._here(moment).date()), time=self.time(moment))
        )

    def relative_day(self, day: Day, today: Day) -> str:
        """today, tomorrow, in 3 days, 2 weeks ago."""
        days = (day - today).days
        near = {0: T_("today"), 1: T_("tomorrow"), -1: T_("yesterday")}.get(days)
        if near is not None:
            return self.text(near)
        return self._cldr_words(
            dates.format_timedelta(
                timedelta(days=days), granularity="day", threshold=2, add_direction=True, locale=self.cldr
            )
        )

    def days(self, count: int) -> str:
        """A stretch of days: 1 day, 12 days."""
        return self.ngettext("{count} day", "{count} days", count).format(count=self.whole(count))

    def symbol(self, unit: str) -> str:
        """The sign of a unit, as it stands beside a field: ft, in French pi. KeyError for a unit that is a word."""
        _, english, french = _SYMBOLS[unit]
        return french if self.locale.startswith("fr") else english

    # -- inside -------------------------------------------------------------------------------
    def _here(self, moment: datetime) -> datetime:
        if moment.tzinfo is None:
            raise ValueError(f"a moment without a time zone cannot be told: {moment!r}")
        return moment.astimezone(ZoneInfo(self.timezone))

    def _cldr_words(self, text: str) -> str:
        return accent(text) if self.locale == PSEUDO_LOCALE else text

    def _size(self, unit: str) -> float:
        if unit == "cord":
            return CORD_M3
        return _SYMBOLS[unit][0] if unit in _SYMBOLS else _WORDED[unit]

    def _figure(self, value: float, digits: int | None) -> str:
        if digits is None:
            digits = 2 if abs(value) < 9.995 else 1 if abs(value) < 99.95 else 0
        return self.decimal(value, digits, strip=True)

    def _rough(self, value_si: float, unit: str) -> str:
        size = self._size(unit)
        return self._with_unit(self.number(value_si / size), value_si, unit)

    def _with_unit(self, figure: str, value_si: float, unit: str) -> str:
        if unit == "cord":
            count = self._plural_count(value_si / CORD_M3)
            return (
                self.ngettext("{amount} cord", "{amount} cords", count)
                .format(amount=figure)
                .replace(" ", NBSP)
            )
        if unit in _SYMBOLS:
            return f"{figure}{NBSP}{self.symbol(unit)}"
        worded = self._worded(unit, self._plural_count(value_si / _WORDED[unit]))
        return worded.format(amount=figure).replace(" ", NBSP)

    def _worded(self, unit: str, count: int) -> str:
        """A unit that is a word, by number: English does not tell them apart, French does."""
        match unit:
            case "stacked_m3":
                return self.ngettext("{amount} stacked m³", "{amount} stacked m³", count)
            case "loose_m3":
                return self.ngettext("{amount} loose m³", "{amount} loose m³", count)
            case "solid_m3":
                return self.ngettext("{amount} solid m³", "{amount} solid m³", count)
            case "stacked_ft3":
                return self.ngettext("{amount} stacked ft³", "{amount} stacked ft³", count)
            case "loose_ft3":
                return self.ngettext("{amount} loose ft³", "{amount} loose ft³", count)
            case "solid_ft3":
                return self.ngettext("{amount} solid ft³", "{amount} solid ft³", count)
            case "million_btu":
                return self.ngettext("{amount} million Btu", "{amount} million Btu", count)
        raise KeyError(unit)

    def _plural_count(self, value: float) -> int:
        """The count by which a language picks singular or plural for a broken number.

        French is singular below 2 (CLDR); in English half a cord is `0.5 cord`, as the trade writes it.
        """
        if self.locale.startswith("fr"):
            return int(abs(value))
        return 1 if 0 < abs(value) <= 1 else 2

    def _fraction(self, value: float) -> str | None:
        """Halves, thirds and quarters (to a thousandth) with a slash; None if it is no such number."""
        nearest = Fraction(value).limit_denominator(4)
        if value <= 0 or nearest.denominator == 1 or abs(float(nearest) - value) > 0.001:
            return None
        whole, part = divmod(nearest.numerator, nearest.denominator)
        tail = f"{part}/{nearest.denominator}"
        return f"{self.whole(whole)}{NBSP}{tail}" if whole else tail


def _exact(value: float, digits: int) -> Decimal:
    """The decimal a float is written as, rounded half to even; never a negative zero."""
    rounded = round(Decimal(repr(float(value))), digits)
    return rounded if rounded else Decimal(0)


def voice_for(facts: Any) -> Voice:
    """A voice from anything that has locale, units, currency and timezone (a yard)."""
    return Voice(facts.locale, facts.units, facts.currency, facts.timezone)
