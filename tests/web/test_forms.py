"""Forms keep what was typed, say all that is wrong at once, and do a deed once."""

from __future__ import annotations

import re
from datetime import date

import httpx
import pytest

from rickyard.desk.context import Desk
from rickyard.desk.households import households
from rickyard.desk.loads import load_page, loads
from rickyard.desk.stacks import stacks
from rickyard.desk.tickets import tickets
from rickyard.errors import InputError
from rickyard.measure import CORD_M3
from rickyard.show import Voice
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem

LOAD = {
    "key": "load-form-0001",
    "quantity": "10 cords",
    "wood": "maple and birch 60/40",
    "source": "Saltbox woodlot",
    "arrived_on": "2026-11-20",
    "harvest_region": "CA-NB",
}
TODAY = date(2026, 11, 24)


def test_figures_are_read_in_the_users_units() -> None:
    form = Form(Voice("fr_CA", "metric"), {"a": ["1,5"], "b": ["16 po"], "c": ["3"], "d": ["20 % brut"]})

    assert form.length("a") == pytest.approx(1.5)
    assert form.length("b", small=True) == pytest.approx(16 * 0.0254)
    assert form.volume("c").m3 == pytest.approx(3.0)
    assert form.percent("d", basis="wet") == pytest.approx(0.2)
    form.check()


def test_bare_numbers_follow_the_units() -> None:
    imperial, metric = Voice("en_CA", "imperial"), Voice("en_CA", "metric")

    assert Form(imperial, {"a": ["2"]}).volume("a").m3 == pytest.approx(2 * CORD_M3)
    assert Form(metric, {"a": ["2"]}).volume("a").m3 == pytest.approx(2.0)
    assert Form(imperial, {"a": ["8"]}).length("a") == pytest.approx(8 * 0.3048)
    assert Form(metric, {"a": ["8"]}).length("a", small=True) == pytest.approx(0.08)


def test_all_complaints_come_at_once() -> None:
    form = Form(Voice(), {"length": ["long"], "height": ["-2"], "rows": ["1.5"]})
    form.length("length", low=0.1)
    form.length("height", low=0.1)
    form.count("rows", low=1)

    with pytest.raises(FormProblem):
        form.check()
    assert [field for field, _, _ in form.summary] == ["length", "height", "rows"]


def test_a_complaint_of_the_desk_goes_under_our_field() -> None:
    form = Form(Voice(), {})
    error = InputError("subdivision", wanted=T_("a few words"), got="x", next_move=T_("Choose one."))

    with pytest.raises(FormProblem), form.asking(subdivision="region"):
        raise error
    assert form.errors("region") == ["Wanted a few words, got x. Choose one."]


def test_a_complaint_about_nothing_on_the_form_stands_on_top() -> None:
    form = Form(Voice(), {})
    error = InputError("moon", wanted=T_("a few words"), got="x", next_move=T_("Choose one."))
    form.complain(error)

    assert form.summary == [("", "", "Wanted a few words, got x. Choose one.")]


def test_a_load_in_a_breath(client: httpx.Client, desk_of: Desk) -> None:
    answer = client.post("/wood-in/new", data=LOAD)

    assert answer.status_code == 303
    page = load_page(desk_of, loads(desk_of)[0].id)
    assert page.row.typed == "10 cords"
    assert [round(share, 2) for _, share in page.row.shares] != []
    assert page.harvest.subdivision == "NB"
    assert "The load is in the book." in client.get(answer.headers["location"]).text
    assert "The load is in the book." not in client.get(answer.headers["location"]).text


def test_what_was_typed_stays(client: httpx.Client, desk_of: Desk) -> None:
    """Wrong fields are marked, right ones kept, the key is the same, nothing is written."""
    before = len(loads(desk_of))
    bad = LOAD | {"quantity": "10 face cords", "wood": "mapel", "arrived_on": "2031-01-01", "county": "York"}
    answer = client.post("/wood-in/new", data=bad)

    assert answer.status_code == 422
    for kept in ("10 face cords", "mapel", "Saltbox woodlot", "York", "load-form-0001"):
        assert f'value="{kept}"' in answer.text
    assert 'id="quantity-error"' in answer.text
    assert 'id="wood-error"' in answer.text
    assert 'href="#quantity"' in answer.text
    assert "no fixed size" in answer.text
    assert re.search(r'id="quantity"[^>]*aria-invalid="true"', answer.text)
    assert not re.search(r'id="source"[^>]*aria-invalid', answer.text)
    assert len(loads(desk_of)) == before

    assert client.post("/wood-in/new", data=LOAD).status_code == 303
    assert len(loads(desk_of)) == before + 1


def test_typed_text_is_shown_as_text(client: httpx.Client) -> None:
    """What is typed never becomes markup, neither in a form nor in a page."""
    nasty = '"><script>alert(1)</script>'
    kept = client.post("/wood-in/new", data=LOAD | {"source": nasty, "quantity": "?"})
    assert "<script>alert" not in kept.text

    made = client.post("/households/new", data={"key": "h" * 12, "name": nasty})
    assert "<script>alert" not in client.get(made.headers["location"]).text
    assert "<script>alert" not in client.get("/households").text


def test_sending_twice_is_one_deed(client: httpx.Client, desk_of: Desk) -> None:
    before = len(loads(desk_of))
    first, second = client.post("/wood-in/new", data=LOAD), client.post("/wood-in/new", data=LOAD)

    assert first.headers["location"] == second.headers["location"]
    assert len(loads(desk_of)) == before + 1


def test_the_same_form_for_something_else_is_refused(client: httpx.Client, desk_of: Desk) -> None:
    client.post("/wood-in/new", data=LOAD)
    before = len(loads(desk_of))
    answer = client.post("/wood-in/new", data=LOAD | {"quantity": "4 cords"})

    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert len(loads(desk_of)) == before


def test_a_form_without_its_key_is_refused(client: httpx.Client) -> None:
    answer = client.post("/households/new", data={"name": "Perpetua Ashgrove"})

    # Without a key a fresh one is made for the form, so the deed is done once with that.
    assert answer.status_code in (303, 422)


def test_htmx_is_told_where_to_go(client: httpx.Client) -> None:
    answer = client.post("/wood-in/new", data=LOAD, headers={"HX-Request": "true"})

    assert answer.status_code == 200
    assert re.fullmatch(r"/wood-in/\d+", answer.headers["HX-Redirect"])


def test_a_log_list_is_taken_whole_or_not_at_all(client: httpx.Client, desk_of: Desk) -> None:
    """Every bad line is named; the typed lines stay."""
    form = {name: value for name, value in LOAD.items() if name not in ("quantity", "wood")}
    good = "species,length_ft,mid_in\nsugar maple,8,12\nyellow birch,8,10\n"
    bad = good + "sugar maple,minus two,12\nunobtainium,8,11\n"
    before = len(loads(desk_of))

    refused = client.post("/wood-in/logs", data=form | {"paste": bad, "log_length-0": "8", "log_mid-0": "11"})
    assert refused.status_code == 422
    assert "Line 4" in refused.text
    assert "Line 5" in refused.text
    assert "minus two" in refused.text
    assert re.search(r'name="log_mid-0"[^>]*value="11"|value="11"[^>]*name="log_mid-0"', refused.text)
    assert len(loads(desk_of)) == before

    files = {"file": ("logs.csv", good.encode("utf-8-sig"), "text/csv")}
    taken = client.post("/wood-in/logs", data=form | {"log_length-0": "8", "log_mid-0": "11"}, files=files)
    assert taken.status_code == 303
    page = load_page(desk_of, loads(desk_of)[0].id)
    assert len(page.logs) == 3
    assert page.logs[0].mid_d_m == pytest.approx(11 * 0.0254)


def test_more_lines_keep_the_typed_ones(client: httpx.Client) -> None:
    answer = client.post(
        "/wood-in/logs", data={"key": "k" * 12, "lines": "5", "more": "1", "log_length-2": "8 ft"}
    )

    assert answer.status_code == 200
    assert 'name="log_length-9"' in answer.text
    assert 'value="8 ft"' in answer.text


def test_what_to_expect_while_typing(client: httpx.Client, desk_of: Desk) -> None:
    """Half a form gives an empty part, a whole one figures; nothing is written."""
    before = len(loads(desk_of))
    assert "Oven-dry" not in client.post("/wood-in/expect", data={"key": "k" * 12, "quantity": "10"}).text
    assert "Oven-dry" in client.post("/wood-in/expect", data=LOAD | {"source": ""}).text
    assert len(loads(desk_of)) == before


def test_a_stack_larger_than_its_logs(client: httpx.Client, desk_of: Desk) -> None:
    load = next(row.id for row in loads(desk_of) if row.detail == "logs")
    form = {
        "key": "stack-form-01",
        "load": str(load),
        f"share-{load}": "100",
        "stack_name": "Z9",
        "kind": "stack",
        "piece_form": "split",
        "piece_length": "16",
        "thickness": "4",
        "length": "80",
        "height": "6",
        "rows": "4",
        "cover": "top",
        "exposure": "normal",
        "stacked_on": "2026-11-20",
        "bark": "on",
    }
    """It stands there, so it is taken, and the page says what does not fit. A day to come is asked about."""
    before = len(stacks(desk_of))
    late = client.post("/stacks/new", data=form | {"stacked_on": "2031-01-01"})
    assert 'id="stacked_on-error"' in late.text
    done = client.post("/stacks/new", data=form | {"stacked_on": "2020-01-01"})
    assert done.status_code == 303
    assert len(stacks(desk_of)) == before + 1

    shown = client.get(done.headers["location"]).text
    assert "but its logs fill at most" in shown
    assert "had left load" in client.get(f"/wood-in/{load}").text
    again = client.post("/stacks/new", data=form | {"key": "stack-form-02"})
    assert again.status_code == 422
    assert 'id="stack_name-error"' in again.text


def test_reading_kinds(client: httpx.Client, small_yard: object) -> None:
    stack = small_yard.mixed  # type: ignore[attr-defined]
    base = {"happened_on": "2026-11-20", "read_species": ""}
    oven = {"kind": "oven", "wet_mass": "120", "dry_mass": "100"}
    cases = [
        ({"kind": "meter", "reading": "22"}, 303),
        (oven, 303),
        ({"kind": "weighed", "mass_then": "100", "mass_now": "75"}, 303),
        ({"kind": "meter", "reading": "-4"}, 422),
        (oven | {"dry_mass": "130"}, 422),
        ({"kind": "weighed", "mass_then": "100", "mass_now": "7500"}, 422),
        ({"kind": "meter", "reading": "22", "happened_on": "2026-11-25"}, 422),
        # From before the stack was stacked: taken, with a clash.
        ({"kind": "meter", "reading": "22", "happened_on": "2026-01-01"}, 303),
    ]
    for number, (fields, status) in enumerate(cases):
        answer = client.post(
            f"/stacks/{stack}/reading", data=base | fields | {"key": f"reading-{number:04d}"}
        )
        assert answer.status_code == status, fields


def test_two_taps_at_the_gate(client: httpx.Client, desk_of: Desk) -> None:
    """The page is the first tap; the second posts what one button carries."""
    page = client.get("/gate").text
    found = re.search(r'name="sale" value="([^"]+)"', page)
    key = re.search(r'name="key" value="([^"]+)"', page)
    assert found
    assert key
    answer = client.post("/gate", data={"key": key[1], "method": "cash", "sale": found[1]})

    assert answer.status_code == 303
    sold = tickets(desk_of)[0]
    assert sold.household_id is None
    assert sold.owed_minor == 0
    assert sold.outside_m3 == pytest.approx(CORD_M3 / 4)


def test_ask_and_promise(client: httpx.Client, desk_of: Desk, small_yard: object) -> None:
    ware, home = small_yard.ware, small_yard.home  # type: ignore[attr-defined]
    query = {"ware": str(ware), "household": str(home), "order_quantity": "1 cord", "wanted_by": "2026-12-20"}
    page = client.get("/orders/new", params=query).text
    portions = re.search(r'name="portions" value="([^"]+)"', page)
    assert "Promise it" in page
    assert portions
    answer = client.post("/orders/new", data=query | {"key": "order-form-01", "portions": portions[1]})
    assert answer.status_code == 303
    assert "Deliver it" in client.get(answer.headers["location"]).text

    no_home = client.post(
        "/orders/new", data=query | {"key": "order-form-02", "portions": portions[1], "household": ""}
    )
    assert no_home.status_code == 422
    assert 'id="home_name-error"' in no_home.text

    noted = client.post("/orders/new", data=query | {"key": "order-form-03"})
    assert noted.status_code == 303


def test_deliver_and_pay(client: httpx.Client, desk_of: Desk, small_yard: object) -> None:
    order = small_yard.promised  # type: ignore[attr-defined]
    page = client.get(f"/orders/{order}/deliver").text
    field = re.search(r'name="(take-\d+)" value="([^"]+)"', page)
    assert field
    form = {"key": "deliver-form1", "delivered_on": "2026-11-24", "piled": "ranked", "method": "cash"}
    refused = client.post(f"/orders/{order}/deliver", data=form | {field[1]: "900 cords"})
    assert refused.status_code == 422

    done = client.post(f"/orders/{order}/deliver", data=form | {field[1]: field[2].replace("&nbsp;", "\xa0")})
    assert done.status_code == 303
    ticket = tickets(desk_of)[0]
    assert ticket.owed_minor == ticket.total_minor
    pay = {"key": "pay-form-0001", "amount": "5000000", "method": "cash", "paid_on": "2026-11-24"}
    assert client.post(f"/tickets/{ticket.id}/pay", data=pay).status_code == 422
    paid = client.post(f"/tickets/{ticket.id}/pay", data=pay | {"amount": f"{ticket.total_minor / 100:.2f}"})
    assert paid.status_code == 303
    assert tickets(desk_of)[0].owed_minor == 0


def test_households_can_be_found(client: httpx.Client, desk_of: Desk) -> None:
    assert len(households(desk_of)) == 2
    page = client.get("/households", params={"search": "marlowe"}).text
    assert "Quentin Marlowe-Pye" in page
    assert "Perpetua Ashgrove" not in page
