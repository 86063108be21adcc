"""What the pages of wood on offer say: verdicts, parts, hours, what drives the range."""

from __future__ import annotations

from dataclasses import dataclass

from rickyard.desk.offer_views import OfferCard
from rickyard.measure import CORD_M3, Spread
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.worth import (
    STEPS,
    Minor,
    StepHours,
    Worth,
    cost_words,
    driver_words,
    main_drivers,
    next_look,
    step_words,
)

GOOD_ODDS, POOR_ODDS = 0.8, 0.2


@dataclass(frozen=True)
class WorthWords:
    """A worth said in the user's words."""

    verdict: str  # "yes", "doubt", "no" or "" where no price is asked
    headline: str
    range: str
    each: str
    asked: str
    facts: tuple[tuple[str, str], ...]
    drivers: tuple[tuple[str, str], ...]
    looks: tuple[str, ...]
    yields: tuple[tuple[str, str, str, str, str], ...]
    costs: tuple[tuple[str, str], ...]
    steps: tuple[tuple[str, str, str], ...]
    stacked: str
    notes: tuple[str, ...]


def worth_words(voice: Voice, card: OfferCard) -> WorthWords | None:
    """None where the worth cannot be reckoned; the card's trouble says why."""
    worth = card.worth
    if worth is None:
        return None
    text, named = voice.text, main_drivers(worth)
    return WorthWords(
        verdict=verdict(card),
        headline=text(headline(voice, worth)),
        range=text(
            T_(
                "between {low} and {high}, 8 times in 10",
                low=voice.money_about(worth.most_to_pay.low),
                high=voice.money_about(worth.most_to_pay.high),
            )
        ),
        each=text(each_words(voice, worth)),
        asked=text(asked_words(voice, card)) if card.asked_minor is not None else "",
        facts=tuple(facts_of(voice, card)),
        drivers=tuple((text(driver_words(one.name)), voice.percent(one.share)) for one in named),
        looks=tuple(dict.fromkeys(text(look) for one in named if (look := next_look(one.name)))),
        yields=tuple(
            (
                one.ware.name,
                voice.species(one.wood),
                voice.volume(one.ranked_m3),
                voice.money_about(one.minor),
                text(months_words(voice, one.months.spread, one.months.known)),
            )
            for one in worth.yields
        ),
        costs=tuple(
            (text(cost_words(part.kind)), voice.money_about(part.minor)) for part in worth.parts if part.minor
        ),
        steps=tuple(
            (
                text(step_words(step.rate.step)),
                hours(voice, step.hours),
                hours_from(voice, step.rate),
            )
            for step in worth.steps
            if step.hours > 0.0
        ),
        stacked=stacked_from(voice, worth),
        notes=tuple(text(note) for note in worth.notes),
    )


def hours_from(voice: Voice, rate: StepHours) -> str:
    """Whether the hours of a step are the yard's own, by how much it was timed, and what stands without that."""
    if rate.sessions:
        if rate.published:
            own = voice.ngettext(
                "our own from {count} timed session ({share}), the rest as published",
                "our own from {count} timed sessions ({share}), the rest as published",
                rate.sessions,
            )
        else:
            own = voice.ngettext(
                "our own from {count} timed session ({share}), the rest assumed",
                "our own from {count} timed sessions ({share}), the rest assumed",
                rate.sessions,
            )
        return own.format(count=voice.whole(rate.sessions), share=voice.percent(rate.own))
    if rate.own:
        return voice.text(T_("our own figure"))
    return voice.text(T_("as published") if rate.published else T_("assumed"))


def stacked_from(voice: Voice, worth: Worth) -> str:
    """By what it is reckoned how tight the wood stacks."""
    if worth.own_loads:
        return voice.ngettext(
            "How tight it stacks goes by our own stacks: {count} load.",
            "How tight it stacks goes by our own stacks: {count} loads.",
            worth.own_loads,
        ).format(count=voice.whole(worth.own_loads))
    return voice.text(T_("How tight it stacks is as published: no load of ours has taught it yet."))


def verdict(card: OfferCard) -> str:
    if card.odds is None:
        return ""
    return "yes" if card.odds >= GOOD_ODDS else "doubt" if card.odds >= POOR_ODDS else "no"


def headline(voice: Voice, worth: Worth) -> Text:
    most = worth.most_to_pay.mid
    if most >= 0:
        return T_("Pay {money} at most", money=voice.money_about(most))
    return T_("Take it only if they pay {money}", money=voice.money_about(-most))


def short_most(voice: Voice, worth: Worth) -> str:
    """For lists: the middle with its range."""
    return money_range(voice, worth.most_to_pay)


def money_range(voice: Voice, money: Minor) -> str:
    return voice.text(
        T_(
            "{mid} ({low} to {high})",
            mid=voice.money_about(money.mid),
            low=voice.money_about(money.low),
            high=voice.money_about(money.high),
        )
    )


def each_words(voice: Voice, worth: Worth) -> Text:
    if voice.metric:
        each = worth.most_to_pay.mid / worth.ranked_m3.mid
        return T_("{money} for each stacked m³ it gives", money=voice.money_about(each))
    return T_("{money} for each cord it gives", money=voice.money_about(worth.most_to_pay.mid / worth.cords))


def asked_words(voice: Voice, card: OfferCard) -> Text:
    asked = card.asked_minor or 0
    odds = voice.odds(card.odds or 0.0)
    if asked < 0:
        return T_(
            "They pay {money}: the margin you want is left {odds}.", money=voice.money(-asked), odds=odds
        )
    if asked == 0:
        return T_("It is free: the margin you want is left {odds}.", odds=odds)
    return T_("They ask {money}: the margin you want is left {odds}.", money=voice.money(asked), odds=odds)


def facts_of(voice: Voice, card: OfferCard) -> list[tuple[str, str]]:
    """What stands beside the headline: value, cost, margin at the price asked (else at the most to pay), hours."""
    worth = card.worth
    if worth is None:
        return []
    asked = card.asked_minor
    price = worth.most_to_pay.mid if asked is None else asked
    at = T_("at the most to pay") if asked is None else T_("at what they ask")
    margin, work = worth.margin_range(price), worth.hours.mid
    told: list[tuple[Text, str]] = [
        (T_("It gives"), voice.volume_range(worth.ranked_m3.low, worth.ranked_m3.mid, worth.ranked_m3.high)),
        (T_("Sells for"), money_range(voice, worth.value)),
        (T_("Costs without the wood"), money_range(voice, worth.cost)),
        (T_("Margin wanted"), voice.money_about(worth.wanted_minor)),
        (T_("Margin for the load, {at}", at=at), money_range(voice, margin)),
        (_each_label(voice, at), money_range(voice, _shared(margin, _volumes(voice, worth)))),
    ]
    if work > 0.0:
        told.append(
            (T_("Margin for an hour of work, {at}", at=at), money_range(voice, _shared(margin, work)))
        )
        brings = money_range(voice, _shared(margin, work, worth.wages_minor))
        told.append((T_("An hour brings in, wages and margin, {at}", at=at), brings))
    told.append((T_("Work"), hours_range(voice, worth)))
    told.append((T_("Until it is sold"), voice.text(months_words(voice, worth.months, worth.months_known))))
    return [(voice.text(label), value) for label, value in told]


def _each_label(voice: Voice, at: Text) -> Text:
    if voice.metric:
        return T_("Margin for a stacked m³, {at}", at=at)
    return T_("Margin for a cord, {at}", at=at)


def _volumes(voice: Voice, worth: Worth) -> float:
    """How many cords, or stacked m³, the load most likely gives."""
    return worth.cords * CORD_M3 if voice.metric else worth.cords


def _shared(money: Minor, by: float, more: float = 0.0) -> Minor:
    """Money for each of so many; the range is that of the money alone."""
    low, mid, high = (round((minor + more) / by) for minor in (money.low, money.mid, money.high))
    return Minor(low, mid, high)


def hours(voice: Voice, count: float) -> str:
    return voice.text(T_("{count} h", count=voice.number(count, 2)))


def hours_range(voice: Voice, worth: Worth) -> str:
    return voice.text(
        T_(
            "{mid} h ({low} to {high})",
            mid=voice.number(worth.hours.mid, 2),
            low=voice.number(worth.hours.low, 2),
            high=voice.number(worth.hours.high, 2),
        )
    )


def months_words(voice: Voice, months: Spread, known: bool) -> Text:
    if months.high == 0.0:
        return T_("sold green, at once")
    low, mid, high = (voice.number(one, 2) for one in (months.low, months.mid, months.high))
    if known:
        return T_("{mid} months ({low} to {high})", mid=mid, low=low, high=high)
    return T_(
        "{mid} months ({low} to {high}), the usual: the calendar is not worked out yet",
        mid=mid,
        low=low,
        high=high,
    )


def assumed_words(voice: Voice, names: tuple[str, ...], worth: Worth | None) -> list[str]:
    """Which figures of the costs are not the yard's own; hours that were timed are, in part."""
    timed = {f"{step.rate.step}_hours" for step in worth.steps if step.rate.sessions} if worth else set()
    own = {
        "wage_minor_h": T_("wages"),
        "machine_minor_h": T_("saw and splitter"),
        "fuel_minor_l": T_("fuel"),
        "vehicle_minor_km": T_("delivery vehicle"),
        "space_minor_cord_month": T_("space in the yard"),
        "metal_minor": T_("metal in the wood"),
        "delivery_km": T_("way to a household"),
        "trip_cords": T_("cords a trip"),
    }
    steps = {f"{step}_hours": T_("hours of {step}", step=step_words(step)) for step in STEPS}
    return [voice.text((own | steps)[name]) for name in names if name not in timed]
