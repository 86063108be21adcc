"""Who, photos and clashes in a real browser of a phone's size."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


def test_saying_who(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="Who?").tap()
    expect(page.get_by_role("heading", name="Who is using this phone?")).to_be_visible()
    page.get_by_label("Somebody new").fill("Isolde")
    page.get_by_role("button", name="Add and use this name").tap()
    page.wait_for_url(re.compile(r"/$"))

    expect(page.locator("header .who")).to_have_text(re.compile("Isolde"))
    who = page.evaluate("document.documentElement.dataset.who")
    assert re.fullmatch(r"\d+", who)
    assert page.evaluate("document.documentElement.dataset.whoName") == "Isolde"
    # The outbox reads it there: a page kept on the phone may still name who used it then.
    assert page.evaluate("document.cookie") == f"who={who}"
    page.goto("/who")
    page.get_by_role("button", name="Nobody").tap()
    page.wait_for_url(re.compile(r"/$"))
    assert page.evaluate("document.documentElement.dataset.who") == ""


def test_a_photo_from_the_stacks_page_and_back(
    page: Page, small_yard: Any, a_photo: Callable[..., bytes]
) -> None:
    page.goto(f"/stacks/{small_yard.dry}")
    page.get_by_role("link", name="Add a photo").tap()
    page.wait_for_url(re.compile(rf"/photos/new\?of=stack-{small_yard.dry}$"))
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("button", name="Put it in the book").tap()
    expect(page.locator("[data-errors]")).to_contain_text("Take one, or choose a file")

    picture = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": a_photo(1000, 1500)}
    page.get_by_label("Photo", exact=True).set_input_files(picture)  # type: ignore[arg-type]
    page.get_by_label("Note").fill("the north end")
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url(re.compile(rf"/stacks/{small_yard.dry}$"))

    small = page.get_by_role("img", name="the north end")
    small.scroll_into_view_if_needed()
    expect(small).to_be_visible()
    # Decoding waits for the bytes; wait_for_function would need "unsafe-eval", which our policy forbids.
    size = small.evaluate("(image) => image.decode().then(() => [image.naturalWidth, image.naturalHeight])")
    assert size == [320, 480]
    # The browser's own page around a picture has styles that our policy stops, so the address alone is looked at.
    whole = page.get_by_role("link", name="the north end").get_attribute("href")
    assert whole is not None
    assert page.request.get(whole).headers["content-type"] == "image/jpeg"


def test_a_clash_is_settled_from_the_first_page(page: Page, small_yard: Any) -> None:
    page.goto("/")
    expect(page.get_by_role("heading", name="Look at these")).to_be_visible()
    page.get_by_label("What it was").fill("a slip of the month")
    page.get_by_role("button", name="Settle it").tap()
    page.wait_for_url(re.compile(rf"/stacks/{small_yard.heap}$"))

    page.goto("/")
    expect(page.get_by_role("heading", name="Look at these")).to_have_count(0)


def test_a_form_of_somebody_else_is_refused_in_words(page: Page, small_yard: Any) -> None:
    """htmx would put a page without the form in its place and leave nothing: the whole page says it."""
    page.goto(f"/stacks/{small_yard.mixed}/move")
    page.evaluate(
        """() => document.querySelector("main form").insertAdjacentHTML(
             "beforeend", '<input type="hidden" name="who" value="999">')"""
    )
    page.locator("main form button.is-main").tap()

    expect(page.get_by_role("heading", name="This did not work")).to_be_visible()
    expect(page.get_by_text("Nothing was written")).to_be_visible()
