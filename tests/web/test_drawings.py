"""The tree key's drawings as pages show them: one file a subject, a part of it a state, under the pages' policy."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page

from rickyard.web.assets import Assets
from rickyard.web.drawings import drawing

SHOW = """
async ([address, views]) => {
  document.body.replaceChildren(...views.map((view) => {
    const image = new Image(80, 80);
    image.src = `${address}#${view}`;
    return image;
  }));
  await Promise.all([...document.images].map((image) => image.decode()));
  return [...document.images].map((image) => [image.naturalWidth, image.naturalHeight]);
}
"""


@pytest.mark.browser
def test_a_part_of_a_file_shows_one_state_under_the_policy(page: Page) -> None:
    """`file.svg#state` in an image is a square of that state alone; no policy is broken, no other drawing asked for."""
    found = [drawing("pith", state) for state in ("solid", "wide")]
    assert None not in found
    views = [item.view for item in found if item is not None]
    page.goto("/who")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))

    sizes = page.evaluate(SHOW, [Assets().url("drawings/twigs.svg"), views])

    assert all(width == height for width, height in sizes)
    drawn = {address.split("#")[0].rsplit("/", 1)[1] for address in asked if "/drawings/" in address}
    assert drawn == {"twigs.svg"}
    solid, wide = (
        np.asarray(Image.open(io.BytesIO(image.screenshot())).convert("RGB"), float)
        for image in page.locator("img").all()
    )
    # The wide pith is salmon in the middle of its tile, the plain one is not.
    assert (wide[50:60, 35:45, 0] - wide[50:60, 35:45, 2]).mean() > 80
    assert (solid[50:60, 35:45, 0] - solid[50:60, 35:45, 2]).mean() < 20
