"""What a phone sends late: its moments, who typed it, clashes on the screens, photos."""

from __future__ import annotations

import base64
import io
import re
import resource
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import httpx
import pytest
from PIL import Image
from sqlalchemy import select

from rickyard.book.models import Deed
from rickyard.desk.clashes import clashes
from rickyard.desk.context import Desk
from rickyard.desk.people import people
from rickyard.desk.photos import photos
from rickyard.desk.readings import readings
from rickyard.desk.stacks import stack_page
from rickyard.web.security import MOST_BYTES, MOST_BYTES_AT

# What `small_yard` gives; its class lies in conftest.py, which cannot be imported.
SmallYard = Any
Painter = Callable[..., bytes]
NOW = datetime(2026, 11, 24, 18, tzinfo=UTC)
READING = {"kind": "meter", "reading": "22", "happened_on": "2026-11-20", "read_species": ""}
MEASURE = {"length": "9", "height": "4.5", "rows": "4", "measured_on": "2026-11-24"}
LOAD = {
    "quantity": "10 cords",
    "wood": "maple and birch 60/40",
    "source": "Saltbox woodlot",
    "arrived_on": "2026-11-20",
    "harvest_region": "CA-NB",
}


def deed_of(desk: Desk, key: str) -> Deed:
    with desk.book.read() as session:
        return session.scalars(select(Deed).where(Deed.client_key == key)).one()


def add(client: httpx.Client, name: str) -> str:
    """Somebody new, who uses this client from now on; their id as the cookie has it."""
    answer = client.post("/who/new", data={"key": f"who-{name}-0001", "person": name})
    assert answer.status_code == 303, answer.text
    return str(answer.cookies["who"])


def forms(yard: SmallYard) -> dict[str, dict[str, str]]:
    """The posts that a phone may send late, by path, with what is typed in them (photos: see below)."""
    logs = {name: value for name, value in LOAD.items() if name not in ("quantity", "wood")}
    return {
        "/wood-in/new": LOAD,
        "/wood-in/logs": logs | {"paste": "species,length_ft,mid_in\nsugar maple,8,12\n"},
        f"/stacks/{yard.mixed}/measure": MEASURE,
        f"/stacks/{yard.mixed}/reading": READING,
        f"/stacks/{yard.heap}/onto": {"onto": "A1", "share_of": "0.25"},
        f"/stacks/{yard.heap}/divide": {"share_of": "0.5", "stack_name": "C4", "kind": "heap"},
        f"/stacks/{yard.heap}/split": {
            "share_of": "0.5",
            "stack_name": "C5",
            "kind": "stack",
            "piece_form": "split",
            "thickness": "4",
        },
        f"/stacks/{yard.heap}/gone": {"share_of": "0.25", "left_for": "lost", "reason": "Back row"},
        f"/stacks/{yard.heap}/came-back": {"ticket_number": "1", "share_of": "0.5", "reason": "Back row"},
        f"/wood-in/{yard.rough_load}/back": {"share_of": "0.5", "reason": "Back row"},
        f"/wood-in/{yard.rough_load}/gone": {"share_of": "0.5", "left_for": "decay", "reason": "Back row"},
    }


class TestWho:
    def test_choosing_a_name(self, client: httpx.Client, desk_of: Desk) -> None:
        assert 'data-who=""' in client.get("/").text
        who = add(client, "Isolde")

        page = client.get("/stacks").text
        assert f'data-who="{who}" data-who-name="Isolde"' in page
        assert re.search(r'class="who" href="/who".{,999}Isolde', page, re.DOTALL)
        assert [item.name for item in people(desk_of)] == ["Isolde", "Perpetua Ashgrove"]

        nobody = client.post("/who", data={"person": ""})
        assert 'who=""' in nobody.headers["set-cookie"]
        chosen = client.post("/who", data={"person": who})
        cookie = chosen.headers["set-cookie"].lower()
        assert f"who={who};" in cookie
        for part in ("httponly", "samesite=lax", "max-age=31536000"):
            assert part in cookie

    def test_it_says_that_it_is_no_lock(self, client: httpx.Client) -> None:
        assert "a label, not a lock" in client.get("/who").text

    def test_names_are_checked(self, client: httpx.Client) -> None:
        add(client, "Isolde")
        taken = client.post("/who/new", data={"key": "who-again-0001", "person": "isolde"})
        unknown = client.post("/who", data={"person": "999"})
        renamed = client.post(
            "/who/rename", data={"key": "who-rename-01", "renamed": client.cookies["who"], "new_name": "Izzy"}
        )

        assert taken.status_code == unknown.status_code == 422
        assert 'id="person-error"' in taken.text
        assert "set-cookie" not in unknown.headers
        assert renamed.status_code == 303
        assert 'data-who-name="Izzy"' in client.get("/").text

    @pytest.mark.parametrize("cookie", ["999", "abc", "1 or 1", "-1", "9" * 30])
    def test_a_strange_cookie_is_nobody(self, client: httpx.Client, cookie: str) -> None:
        client.cookies.set("who", cookie)

        assert 'data-who=""' in client.get("/").text

    def test_pages_of_errors_know_who_too(self, client: httpx.Client) -> None:
        who = add(client, "Isolde")

        assert f'data-who="{who}"' in client.get("/stacks/99999").text
        assert f'data-who="{who}"' in client.get("/nowhere").text


class TestTold:
    def test_moments_and_person_reach_every_report(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard
    ) -> None:
        """Typed an hour ago on a phone whose clock is three days ahead."""
        who = add(client, "Isolde")
        wrong = timedelta(days=3)
        told = {
            "happened_at": (NOW + wrong - timedelta(hours=1)).isoformat(),
            "sent_at": (NOW + wrong).isoformat().replace("+00:00", "Z"),
            "who": who,
        }
        for number, (path, typed) in enumerate(forms(small_yard).items()):
            key = f"told-form-{number:04d}"
            for _ in range(2):
                answer = client.post(path, data=typed | told | {"key": key})
                assert answer.status_code == 303, (path, answer.text)
            deed = deed_of(desk_of, key)
            assert deed.happened_at == NOW - timedelta(hours=1), path
            assert deed.person_id == int(who), path

    def test_without_them_it_is_as_before(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard
    ) -> None:
        for number, (path, typed) in enumerate(forms(small_yard).items()):
            key = f"bare-form-{number:04d}"
            empty = {"happened_at": "", "sent_at": ""} if number % 2 else {}
            assert client.post(path, data=typed | empty | {"key": key}).status_code == 303, path
            assert deed_of(desk_of, key).happened_at == NOW
            assert deed_of(desk_of, key).person_id is None

    @pytest.mark.parametrize("name", ["happened_at", "sent_at"])
    @pytest.mark.parametrize("typed", ["yesterday", "2026-11-24T10:00:00", "2026-13-01T00:00:00Z", "12"])
    def test_nonsense_is_a_complaint(
        self, client: httpx.Client, small_yard: SmallYard, name: str, typed: str
    ) -> None:
        for path, fields in forms(small_yard).items():
            answer = client.post(path, data=fields | {"key": "nonsense-0001", name: typed})
            assert answer.status_code == 422, path
            assert "data-errors" in answer.text

    @pytest.mark.parametrize("hx", [{}, {"HX-Request": "true"}])
    def test_nothing_is_written_under_the_wrong_name(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard, hx: dict[str, str]
    ) -> None:
        first = add(client, "Isolde")
        add(client, "Osric")
        before = len(readings(desk_of, small_yard.mixed))
        for typed_by in (first, "", "999", "abc"):
            for path, fields in forms(small_yard).items():
                sent = fields | {"key": f"wrong-name-{typed_by}", "who": typed_by}
                answer = client.post(path, data=sent, headers=hx)
                assert answer.status_code == 409, path
                assert answer.headers["x-rickyard-code"] == "other_person"
                assert "Osric" in answer.text
                assert ("hx-retarget" in answer.headers) is bool(hx)

        assert len(readings(desk_of, small_yard.mixed)) == before
        right = client.post(
            f"/stacks/{small_yard.mixed}/reading",
            data=READING | {"key": "right-name-01", "who": client.cookies["who"]},
        )
        assert right.status_code == 303

    def test_a_phone_of_nobody(self, client: httpx.Client, small_yard: SmallYard) -> None:
        path = f"/stacks/{small_yard.mixed}/reading"

        assert client.post(path, data=READING | {"key": "nobody-0001", "who": ""}).status_code == 303
        assert client.post(path, data=READING | {"key": "nobody-0002", "who": "1"}).status_code == 409


class TestMeasuring:
    def test_a_measure_of_an_earlier_day_comes_late(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard
    ) -> None:
        path = f"/stacks/{small_yard.mixed}/measure"
        told = {"happened_at": NOW.isoformat(), "sent_at": NOW.isoformat()}
        new = client.post(path, data=MEASURE | told | {"key": "measure-0001"})
        late = client.post(
            path,
            data=MEASURE | told | {"key": "measure-0002", "length": "12", "measured_on": "2026-11-10"},
        )

        assert (new.status_code, late.status_code) == (303, 303)
        page = stack_page(desk_of, small_yard.mixed)
        assert page.card.length_m == pytest.approx(9 * 0.3048)
        assert [line.happened_at.date() for line in page.measures][-2:] == [
            date(2026, 11, 10),
            date(2026, 11, 24),
        ]

    def test_a_closed_stack(self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard) -> None:
        """Closed, measured all the same, looked at, opened again."""
        stack = small_yard.dry
        client.post(f"/stacks/{stack}/empty", data={"key": "empty-00001", "reason": "burnt"})
        done = client.post(f"/stacks/{stack}/measure", data=MEASURE | {"key": "measure-0003"})

        page = client.get(done.headers["location"]).text
        assert "does not fit what the book says" in page
        assert "but stood on" in page
        assert "It stands after all" in page
        no_reason = client.post(f"/stacks/{stack}/reopen", data={"key": "reopen-0001", "reason": ""})
        assert no_reason.status_code == 422
        opened = client.post(f"/stacks/{stack}/reopen", data={"key": "reopen-0001", "reason": "another"})
        assert opened.status_code == 303
        assert stack_page(desk_of, stack).card.length_m == pytest.approx(9 * 0.3048)
        assert stack_page(desk_of, stack).card.oven_dry_kg > 0


class TestClashes:
    def test_look_at_these(self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard) -> None:
        page = client.get("/").text
        assert "Look at these" in page
        assert "before it was stacked on Mar 1, 2025" in page
        assert f'href="/stacks/{small_yard.heap}"' in page
        assert "before it was stacked" in client.get(f"/stacks/{small_yard.heap}").text

        path = f"/clashes/{small_yard.clash}/settle"
        empty = client.post(path, data={"key": "settle-00001", "settled": " "})
        assert empty.status_code == 422
        assert 'id="settled-error"' in empty.text
        done = client.post(path, data={"key": "settle-00002", "settled": "a slip of the month"})
        assert done.headers["location"] == f"/stacks/{small_yard.heap}"
        again = client.post(path, data={"key": "settle-00003", "settled": "me too"})
        assert again.status_code == 422
        assert "settled already" in again.text

        assert clashes(desk_of) == []
        assert "Look at these" not in client.get("/").text
        assert "a slip of the month" in client.get(f"/stacks/{small_yard.heap}").text
        assert client.get("/clashes/999").status_code == 404

    def test_by_the_api(self, client: httpx.Client, small_yard: SmallYard) -> None:
        (found,) = client.get("/api/clashes").json()
        assert found["code"] == "before_stacking"
        assert found["stack_id"] == small_yard.heap
        assert "before it was stacked on 2025-03-01" in found["sentence"]
        assert client.get("/api/clashes", params={"stack_id": small_yard.dry}).json() == []
        assert client.get("/api/today").json()["clashes"] == [found]

        body = {"key": "api-settle-01", "clash_id": found["id"], "note": "a slip"}
        assert client.post("/api/deeds/settle-clash", json=body).json() == {"clash_id": found["id"]}
        assert client.get("/api/clashes").json() == []
        settled = client.get("/api/clashes", params={"open_only": False}).json()
        assert settled[0]["note"] == "a slip"
        again = client.post("/api/deeds/settle-clash", json=body | {"key": "api-settle-02"})
        assert (again.status_code, again.json()["error"]["code"]) == (409, "already_settled")


@pytest.mark.parametrize("at", ["reading", "photo"])
def test_what_the_outbox_sends_is_put_off_while_the_book_cannot_be_written(
    client: httpx.Client, small_yard: SmallYard, a_photo: Painter, at: str
) -> None:
    """Nothing is wrong with what was typed then: the phone is not to ask for other words, but to send it again."""
    if at == "photo":
        what: dict[str, Any] = {
            "data": photo_form(small_yard, key="put-off-photo"),
            "files": {"photo": ("a.png", a_photo(20, 20, "PNG"), "image/png")},
        }
        path = "/photos/new"
    else:
        path, what = f"/stacks/{small_yard.dry}/reading", {"data": READING | {"key": "put-off-reading"}}
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, before[1]))
    try:
        refused = client.post(path, headers={"X-Outbox": "1"}, **what)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)

    assert refused.status_code == 503, refused.text
    assert refused.json()["error"]["code"] in ("disk_full", "disk_trouble")
    assert client.post(path, headers={"X-Outbox": "1"}, **what).json() == {"go": f"/stacks/{small_yard.dry}"}


def photo_form(yard: SmallYard, key: str = "photo-form-01", **changes: str) -> dict[str, str]:
    return {"key": key, "subject": f"stack-{yard.dry}", "note": "the north end"} | changes


class TestPhotos:
    def test_a_photo_of_a_stack(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard, a_photo: Painter
    ) -> None:
        who = add(client, "Isolde")
        page = client.get(f"/photos/new?of=stack-{small_yard.dry}").text
        assert re.search(r'<input[^>]*type="file"[^>]*accept="image/\*"[^>]*capture="environment"', page)
        form = photo_form(small_yard, who=who, sent_at=NOW.isoformat(), happened_at=NOW.isoformat())
        files = {"photo": ("IMG_0001.jpg", a_photo(1200, 800), "image/jpeg")}
        answers = [client.post("/photos/new", data=form, files=files) for _ in range(2)]

        assert [answer.headers["location"] for answer in answers] == [f"/stacks/{small_yard.dry}"] * 2
        (card,) = photos(desk_of, "stack", small_yard.dry)
        assert deed_of(desk_of, form["key"]).person_id == int(who)
        stack = client.get(f"/stacks/{small_yard.dry}").text
        assert f'src="/photos/{card.id}/small"' in stack
        assert "the north end" in stack
        whole, small = client.get(f"/photos/{card.id}"), client.get(f"/photos/{card.id}/small")
        assert whole.headers["content-type"] == small.headers["content-type"] == "image/jpeg"
        for answer in (whole, small):
            assert "immutable" in answer.headers["cache-control"]
            assert "private" in answer.headers["cache-control"]
            assert answer.headers["x-content-type-options"] == "nosniff"
        assert Image.open(io.BytesIO(whole.content)).size == (1200, 800)
        assert Image.open(io.BytesIO(small.content)).size == (480, 320)

        remove = f"/photos/{card.id}/remove"
        assert f'href="{remove}"' in stack
        asked = client.get(remove).text
        assert f'src="/photos/{card.id}/small"' in asked
        gone = client.post(remove, data={"key": "photo-out-1", "who": who})
        assert gone.headers["location"] == f"/stacks/{small_yard.dry}"
        assert photos(desk_of, "stack", small_yard.dry) == []
        assert client.get(f"/photos/{card.id}").status_code == 404

    @pytest.mark.parametrize("kind", ["load", "ticket", "reading", "yard"])
    def test_photos_of_other_things(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard, a_photo: Painter, kind: str
    ) -> None:
        number = {
            "load": small_yard.rough_load,
            "ticket": small_yard.ticket,
            "reading": readings(desk_of, small_yard.mixed)[0].id,
            "yard": desk_of.yard_id,
        }[kind]
        subject = "yard" if kind == "yard" else f"{kind}-{number}"
        assert client.get("/photos/new", params={"of": subject}).status_code == 200
        answer = client.post(
            "/photos/new",
            data=photo_form(small_yard, subject=subject),
            files={"photo": ("a.png", a_photo(kind="PNG"), "application/octet-stream")},
        )

        (card,) = photos(desk_of, kind, number)
        assert f'src="/photos/{card.id}/small"' in client.get(answer.headers["location"]).text

    def test_a_photo_of_what_was_sent_just_before(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard, a_photo: Painter
    ) -> None:
        """A phone knows its own deed's key, not the number the book gave; it says beside what it drew away."""
        files = {"photo": ("photo.jpg", a_photo(), "image/jpeg")}
        for number, (path, typed) in enumerate(forms(small_yard).items()):
            key = f"deed-before-{number}"
            client.post(path, data=typed | {"key": key})
            sent = photo_form(small_yard, f"photo-after-{number}", subject=f"deed-{key}")
            told = {"taken_at": "2026-11-24T11:30:00", "latitude": "45.963333", "longitude": "-66.643111"}
            answer = client.post("/photos/new", data=sent | (told if number else {}), files=files)
            assert answer.status_code == 303, answer.text
            moved = ("stack", "stack", "stack", "stack", "ticket", "load", "load")
            kind = ("load", "load", "stack", "reading", *moved)[number]
            with desk_of.book.read() as session:
                about = session.scalars(select(Deed.answer).where(Deed.client_key == key)).one()
            (card, *_) = photos(desk_of, kind, about[f"{kind}_id"])
            assert card.taken_at == (datetime(2026, 11, 24, 15, 30, tzinfo=UTC) if number else None)
            assert card.latitude_deg == (pytest.approx(45.963333) if number else None)
            assert card.longitude_deg == (pytest.approx(-66.643111) if number else None)

        unknown = client.post("/photos/new", data=photo_form(small_yard, subject="deed-nobody"), files=files)
        assert unknown.status_code == 404

    @pytest.mark.parametrize(
        "odd",
        [
            {"taken_at": "0000-00-00T00:00:00"},
            {"taken_at": "0001-01-01T00:00:00"},
            {"taken_at": "9999-12-31T23:59:59"},
            {"latitude": "north", "longitude": "1"},
            {"latitude": "91", "longitude": "1"},
            {"latitude": "45"},
            {"latitude": "nan", "longitude": "nan"},
        ],
    )
    def test_odd_things_beside_a_photo_do_not_lose_it(
        self,
        client: httpx.Client,
        desk_of: Desk,
        small_yard: SmallYard,
        a_photo: Painter,
        odd: dict[str, str],
    ) -> None:
        files = {"photo": ("photo.jpg", a_photo(), "image/jpeg")}
        assert client.post("/photos/new", data=photo_form(small_yard) | odd, files=files).status_code == 303

        (card,) = photos(desk_of, "stack", small_yard.dry)
        assert (card.taken_at, card.latitude_deg, card.longitude_deg) == (None, None, None)

    def test_refusals(
        self, client: httpx.Client, desk_of: Desk, small_yard: SmallYard, a_photo: Painter
    ) -> None:
        form = photo_form(small_yard)
        for files in (
            None,
            {"photo": ("", b"", "image/jpeg")},
            {"photo": ("a.jpg", b"GIF89a", "image/jpeg")},
            {"photo": ("a.jpg", a_photo() + bytes(8_000_000), "image/jpeg")},
        ):
            answer = client.post("/photos/new", data=form, files=files)
            assert answer.status_code == 422
            assert 'id="photo-error"' in answer.text
            assert 'value="the north end"' in answer.text
        assert photos(desk_of, "stack", small_yard.dry) == []
        for subject in ("stack-999", "stack-", "cellar-1", "stack-9999999999999", "household-1"):
            assert client.get("/photos/new", params={"of": subject}).status_code in (404, 422), subject
        assert client.get("/photos/999").status_code == 404
        assert client.get("/photos/999/small").status_code == 404

    def test_only_photos_may_be_large(
        self, client: httpx.Client, small_yard: SmallYard, a_photo: Painter
    ) -> None:
        files = {"photo": ("a.jpg", a_photo() + bytes(MOST_BYTES), "image/jpeg")}

        assert client.post("/photos/new", data=photo_form(small_yard), files=files).status_code == 303
        assert client.post("/wood-in/logs", data={"key": "k" * 12}, files=files).status_code == 413
        beyond = {"photo": ("a.jpg", bytes(MOST_BYTES_AT["/photos/new"]), "image/jpeg")}
        assert client.post("/photos/new", data=photo_form(small_yard), files=beyond).status_code == 413

    def test_a_body_of_unknown_length_is_bounded_too(self, client: httpx.Client) -> None:
        def stream() -> object:
            for _ in range(90):
                yield bytes(100_000)

        answer = client.post(
            "/photos/new",
            content=stream(),  # type: ignore[arg-type]
            headers={"Content-Type": "multipart/form-data; boundary=x"},
        )
        assert answer.status_code in (400, 413)

    def test_by_the_api(self, client: httpx.Client, small_yard: SmallYard, a_photo: Painter) -> None:
        body = {
            "key": "api-photo-001",
            "content": base64.b64encode(a_photo()).decode(),
            "subject_kind": "load",
            "subject_id": small_yard.rough_load,
        }
        done = client.post("/api/deeds/add-photo", json=body)
        assert done.status_code == 200, done.text
        listed = client.get(
            "/api/photos", params={"subject_kind": "load", "subject_id": small_yard.rough_load}
        )
        assert [item["id"] for item in listed.json()] == [done.json()["photo_id"]]
        bad = client.post("/api/deeds/add-photo", json=body | {"key": "api-photo-002", "content": "R0lGODlh"})
        assert (bad.status_code, bad.json()["error"]["field"]) == (422, "photo")

    def test_people_by_the_api(self, client: httpx.Client) -> None:
        done = client.post("/api/deeds/add-person", json={"key": "api-person-01", "name": "Osric"}).json()
        renamed = {"key": "api-person-02", "who_id": done["person_id"], "name": "Osric B."}
        assert client.post("/api/deeds/rename-person", json=renamed).json()["name"] == "Osric B."
        assert {"id": done["person_id"], "name": "Osric B."} in client.get("/api/people").json()
        stranger = {"key": "api-person-03", "name": "Nerea", "person_id": 999}
        answer = client.post("/api/deeds/add-person", json=stranger)
        assert (answer.status_code, answer.json()["error"]["code"]) == (404, "unknown_person")
