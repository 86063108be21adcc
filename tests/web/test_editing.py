"""Two people change the same thing: the second is told, keeps what was typed, and may save over it."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from typing import Any

import httpx
import pytest

from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import SetHousehold, household, set_household
from rickyard.desk.offer_views import offer_facts
from rickyard.desk.offers import NoteOffer, OfferFacts, TreeFacts, note_offer
from rickyard.desk.wares import ware
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import yard_facts
from rickyard.errors import ClashError


def typed_in(page: str, form_id: str) -> dict[str, str]:
    """A form's texts as a browser would send them back (its ticks and choices as they stand)."""
    form = page[page.index(f'id="{form_id}"') :]
    form = form[: form.index("</form>")]
    found: dict[str, str] = {}
    for tag in re.findall(r"<(?:input|textarea|select)[^>]*>[^<]*(?:<option[^>]*>[^<]*</option>\s*)*", form):
        name = re.search(r' name="([^"]+)"', tag)
        if name is None:
            continue
        if tag.startswith("<select"):
            chosen = re.search(r'<option value="([^"]*)" selected', tag)
            found[name[1]] = html.unescape(chosen[1]) if chosen else ""
        elif 'type="radio"' in tag or 'type="checkbox"' in tag:
            if " checked" in tag:
                value = re.search(r' value="([^"]*)"', tag)
                found[name[1]] = html.unescape(value[1]) if value else "on"
        elif tag.startswith("<textarea"):
            found[name[1]] = html.unescape(tag[tag.index(">") + 1 :])
        else:
            value = re.search(r' value="([^"]*)"', tag)
            found[name[1]] = html.unescape(value[1]) if value else ""
    return found


def test_a_household_changed_by_two(client: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    path = f"/households/{small_yard.home}/change"
    first, second = (typed_in(client.get(path).text, "household-form") for _ in range(2))
    assert first["seen"]
    assert first["key"] != second["key"]
    assert client.post(path, data=first | {"phone": "506-555-0111"}).status_code == 303

    refused = client.post(path, data=second | {"note": "a dog"})
    assert refused.status_code == 422
    assert "Somebody changed this while you were typing" in refused.text
    assert "The book says now: 506-555-0111." in refused.text
    again = typed_in(refused.text, "household-form")
    assert (again["note"], again["phone"]) == ("a dog", second["phone"])
    assert household(desk_of, small_yard.home).note != "a dog"

    assert again["seen"] != second["seen"]
    assert client.post(path, data=again | {"phone": "506-555-0111"}).status_code == 303
    kept = household(desk_of, small_yard.home)
    assert (kept.note, kept.phone) == ("a dog", "506-555-0111")


def test_a_price_changed_by_two(client: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    path = f"/wares/{small_yard.ware}"
    first, second = (typed_in(client.get(path).text, "ware-form") for _ in range(2))
    assert client.post(path, data=first | {"price": "451.00"}).status_code == 303

    refused = client.post(path, data=second | {"price": "399.00"})
    assert refused.status_code == 422
    assert "The book says now: 451.00." in refused.text
    assert ware(desk_of, small_yard.ware).price_minor == 45_100
    again = typed_in(refused.text, "ware-form")
    assert again["price"] == "399.00"
    assert client.post(path, data=again).status_code == 303
    assert ware(desk_of, small_yard.ware).price_minor == 39_900


def test_the_yard_s_facts_changed_by_two(client: httpx.Client, desk_of: Desk) -> None:
    first, second = (typed_in(client.get("/yard").text, "yard-form") for _ in range(2))
    assert client.post("/yard", data=first | {"phone": "506-555-0112"}).status_code == 303
    refused = client.post("/yard", data=second | {"address": "14 Heron Flats Road"})
    assert refused.status_code == 422
    assert "The book says now: 506-555-0112." in refused.text
    assert yard_facts(desk_of).address != "14 Heron Flats Road"


def test_saved_twice_by_one_is_no_clash(client: httpx.Client, small_yard: Any) -> None:
    """The same form sent again (a second tap, a lost answer) is the same deed."""
    path = f"/households/{small_yard.home}/change"
    form = typed_in(client.get(path).text, "household-form") | {"note": "a dog"}
    assert [client.post(path, data=form).status_code for _ in range(2)] == [303, 303]


def test_programs_may_ask_for_it_too(small_yard: Any, desk_of: Desk) -> None:
    before = household(desk_of, small_yard.home)
    with pytest.raises(ClashError, match="while you were typing"):
        set_household(
            desk_of,
            SetHousehold(key=new_key(), name=before.name, household_id=before.id, seen="0" * 16),
        )
    set_household(
        desk_of,
        SetHousehold(key=new_key(), name=before.name, household_id=before.id, seen=before.state),
    )
    set_household(desk_of, SetHousehold(key=new_key(), name="Somebody else", household_id=before.id))
    assert household(desk_of, small_yard.home).name == "Somebody else"


@pytest.mark.parametrize("lang", ["en_CA", "fr_CA"])
def test_what_a_form_shows_is_taken_back_as_it_is(
    client: httpx.Client, small_yard: Any, desk_of: Desk, lang: str
) -> None:
    """Names, shares and amounts are written as who reads them writes them."""
    facts = OfferFacts(
        source="Woodlot",
        harvest=Harvest(country="CA", subdivision="NB", county="York"),
        offered_on=desk_of.today(),
        quantity=10.0,
        shares=(("acer_saccharum", 0.7), ("apple_and_pear", 0.3)),
        asked_minor=123_450,
        haul_minor=12_050,
    )
    number = int(note_offer(desk_of, NoteOffer(key=new_key(), facts=facts))["offer_id"])
    path, before = f"/offers/{number}/change", offer_facts(desk_of, number)
    client.cookies.set("lang", lang)

    shown = typed_in(client.get(path).text, "offer-form")
    wood, amount = {
        "en_CA": ("70% sugar maple, 30% apple, pear and hawthorn", "1234.50"),
        "fr_CA": ("70\u00a0% érable à sucre, 30\u00a0% pommier et aubépine", "1234,50"),
    }[lang]
    assert (shown["wood"], shown["asked"]) == (wood, amount)
    assert client.post(path, data=shown).status_code == 303
    assert offer_facts(desk_of, number) == before
    shown = typed_in(client.get(path).text, "offer-form") | {"quantity": "12 cords", "note": "by the road"}
    assert client.post(path, data=shown).status_code == 303
    changed = offer_facts(desk_of, number)
    assert (changed.typed, changed.note, changed.shares) == ("12 cords", "by the road", before.shares)

    standing = replace(
        before,
        quantity=None,
        shares=(),
        trees=(TreeFacts(species="acer_saccharum", dbh_m=0.413, height_m=17.3, count=2),),
        rot_share=0.1234,
    )
    number = int(note_offer(desk_of, NoteOffer(key=new_key(), facts=standing))["offer_id"])
    path, before = f"/offers/{number}/change", offer_facts(desk_of, number)
    shown = typed_in(client.get(path).text, "offer-form")
    assert client.post(path, data=shown).status_code == 303
    assert offer_facts(desk_of, number) == before
    thicker = typed_in(client.get(path).text, "offer-form") | {"dbh-0": "20"}
    assert client.post(path, data=thicker).status_code == 303
    assert offer_facts(desk_of, number).trees[0].dbh_m == pytest.approx(0.508)

    ware_path, price = f"/wares/{small_yard.ware}", ware(desk_of, small_yard.ware)
    assert client.post(ware_path, data=typed_in(client.get(ware_path).text, "ware-form")).status_code == 303
    assert ware(desk_of, small_yard.ware) == price
