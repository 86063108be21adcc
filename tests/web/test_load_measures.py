"""Another measure of a load, told in the yard without signal and sent later."""

from __future__ import annotations

from typing import Any

import httpx

from rickyard.desk.context import Desk
from rickyard.desk.load_measures import load_measures


def test_another_measure_of_a_load_waits_on_the_phone(
    client: httpx.Client, desk_of: Desk, small_yard: Any
) -> None:
    """The form is kept beforehand and goes through the outbox; sent twice, later, it is one measure of its own day."""
    path = f"/wood-in/{small_yard.rough_load}/measure"
    kept = client.get("/offline/keep.json").json()
    for way in ("truck", "weight", "logs"):
        assert f"{path}?by={way}" in kept
        assert 'id="measure-form" data-outbox="' in client.get(path, params={"by": way}).text
    before = len(load_measures(desk_of, small_yard.rough_load).lines)
    sent = {
        "key": "load-measure-0001",
        "by": "weight",
        "net_weight": "5000 lb",
        "weighed_bark": "on",
        "happened_at": "2026-11-23T15:00:00+00:00",
        "sent_at": "2026-11-24T18:00:00+00:00",
    }
    for _ in range(2):
        answer = client.post(path, data=sent)
        assert (answer.status_code, answer.headers["location"]) == (
            303,
            f"/wood-in/{small_yard.rough_load}#measures",
        ), answer.text
    lines = load_measures(desk_of, small_yard.rough_load).lines
    assert len(lines) == before + 1
