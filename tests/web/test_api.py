"""The API: the same deeds and views as JSON, one shape of error, an OpenAPI document that is true."""

from __future__ import annotations

import math
import os
from typing import Any

import httpx
import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from schemathesis.specs.openapi.checks import positive_data_acceptance

from rickyard.desk.context import Command
from rickyard.web.api.bodies import body_model, command_of

# Requests of each kind; `make prove-api` asks for more.
EXAMPLES = int(os.environ.get("RICKYARD_FUZZ", "20"))
CORD_M3 = 128 * 0.3048**3
LOAD = {
    "key": "api-load-0001",
    "source": "Saltbox woodlot",
    "harvest": {"country": "CA", "subdivision": "NB"},
    "arrived_on": "2026-11-20",
    "quantity": 10 * CORD_M3,
    "shares": [["sugar maple", 0.6], ["yellow birch", 0.4]],
}


def done(client: httpx.Client, deed: str, **body: Any) -> dict[str, Any]:
    answer = client.post(f"/api/deeds/{deed}", json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def refused(client: httpx.Client, deed: str, status: int, **body: Any) -> dict[str, str]:
    """The error object, whose shape is always the same."""
    answer = client.post(f"/api/deeds/{deed}", json=body)
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/json"
    assert set(answer.json()) == {"error"}
    error: dict[str, str] = answer.json()["error"]
    assert {"code", "field", "message"} <= set(error)
    return error


def test_a_day_by_the_api(client: httpx.Client) -> None:
    """Load, stack, reading, order, delivery and payment, each by its deed, each seen in its view."""
    load = done(client, "take-in-rough", **LOAD)
    page = client.get(f"/api/loads/{load['load_id']}").json()
    assert page["row"]["number"] == load["number"]
    assert [item["species"]["id"] for item in page["row"]["shares"]] == [
        "acer_saccharum",
        "betula_alleghaniensis",
    ]
    total = page["as_arrived"]["total"]
    assert total["solid_m3"]["low"] < total["solid_m3"]["mid"] < total["solid_m3"]["high"]
    stack = done(
        client,
        "stack-up",
        key="api-stack-001",
        sources=[[load["load_id"], 0.5]],
        pieces={"name": "Q1", "piece_length_m": 0.4064, "thickness_m": 0.1, "stacked_on": "2026-11-21"},
        outside={"length_m": 8.0, "heights_m": [1.5], "rows": 3},
    )
    card = client.get(f"/api/stacks/{stack['stack_id']}").json()["card"]
    assert card["name"] == "Q1"
    assert card["free_m3"] == pytest.approx(8.0 * 1.5 * 0.4064 * 3, rel=0.001)
    done(
        client,
        "add-reading",
        key="api-reading-1",
        stack_id=stack["stack_id"],
        kind="oven",
        value=0.4,
        happened_on="2026-11-22",
        species="sugar maple",
    )
    assert client.get(f"/api/stacks/{stack['stack_id']}/readings").json()[0]["value"] == 0.4
    assert client.get(f"/api/stacks/{stack['stack_id']}/outlook").json()["known"] is False
    home = done(client, "set-household", key="api-home-001", name="Perpetua Ashgrove")
    ware = next(item for item in client.get("/api/wares").json() if item["max_mc_wet"] is None)
    asked = client.get(
        "/api/ask", params={"ware_id": ware["id"], "ranked_m3": CORD_M3, "wanted_by": "2026-12-20"}
    ).json()
    assert asked["verdict"] == "yes"
    portions = [[part["stack"]["id"], part["ranked_m3"]] for part in asked["option"]["portions"]]
    order = done(
        client,
        "place-order",
        key="api-order-001",
        household_id=home["household_id"],
        ware_id=ware["id"],
        ranked_m3=CORD_M3,
        wanted_by="2026-12-20",
        portions=portions,
    )
    assert order["state"] == "promised"
    ticket = done(
        client, "deliver", key="api-deliver-1", order_id=order["order_id"], delivered_on="2026-11-24"
    )
    paid = done(
        client,
        "pay",
        key="api-payment-1",
        ticket_id=ticket["ticket_id"],
        amount_minor=ticket["total_minor"],
        paid_on="2026-11-24",
    )
    assert paid["owed_minor"] == 0
    assert client.get(f"/api/tickets/{ticket['ticket_id']}").json()["owed_minor"] == 0
    assert client.get(f"/api/tickets/{ticket['ticket_id']}/pdf").content.startswith(b"%PDF")


def test_the_same_key_gives_the_first_answer(client: httpx.Client) -> None:
    first, second = done(client, "take-in-rough", **LOAD), done(client, "take-in-rough", **LOAD)
    error = refused(client, "take-in-rough", 409, **(LOAD | {"quantity": 1.0}))

    assert first == second
    assert error["code"] == "key_used"


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"quantity": -3.0}, 422, "quantity"),
        ({"quantity": "ten"}, 422, "quantity"),
        ({"quantity": 1e300}, 422, "quantity"),
        ({"shares": [["unobtainium", 1.0]]}, 422, "shares"),
        ({"shares": [["sugar maple", 0.6]]}, 422, "shares"),
        ({"shares": []}, 422, "shares"),
        ({"arrived_on": "2031-01-01"}, 422, "arrived_on"),
        ({"arrived_on": "yesterday"}, 422, "arrived_on"),
        ({"quantity_kind": "rick"}, 422, "quantity_kind"),
        ({"key": "short"}, 422, "key"),
        ({"source": "nul \x00 inside"}, 422, "source"),
        ({"paid_minor": 10**30}, 422, "paid_minor"),
        ({"happened_at": "2026-11-20T12:00:00"}, 422, "happened_at"),
        ({"happened_at": "2031-11-20T12:00:00Z"}, 422, "happened_at"),
        ({"surplus": 1}, 422, "surplus"),
    ],
)
def test_nonsense_is_refused_with_its_field(
    client: httpx.Client, change: dict[str, Any], status: int, field: str
) -> None:
    assert refused(client, "take-in-rough", status, **(LOAD | change))["field"] == field


def test_promises_against_stock_are_refused(client: httpx.Client, small_yard: Any) -> None:
    error = refused(
        client,
        "place-order",
        409,
        key="api-order-009",
        household_id=small_yard.home,
        ware_id=small_yard.ware,
        ranked_m3=300.0,
        wanted_by="2026-12-20",
        portions=[[small_yard.dry, 300.0]],
    )
    assert error["code"] == "not_enough"


def test_errors_have_one_shape(client: httpx.Client, empty_client: httpx.Client) -> None:
    for answer, status in (
        (client.get("/api/nothing"), 404),
        (client.get("/api/stacks/999999"), 404),
        (client.get("/api/stacks/many"), 422),
        (client.get(f"/api/stacks/{10**40}"), 422),
        (client.delete("/api/stacks"), 405),
        (client.post("/api/deeds/pay", content=b"{not json"), 422),
        (client.post("/api/deeds/pay", headers={"Origin": "https://elsewhere.example"}), 403),
        (empty_client.get("/api/today"), 409),
    ):
        assert answer.status_code == status, answer.url
        assert set(answer.json()["error"]) >= {"code", "field", "message"}, answer.url


def test_lone_surrogates_are_refused(client: httpx.Client) -> None:
    body = b'{"key": "api-home-002", "name": "\\ud800"}'
    answer = client.post(
        "/api/deeds/set-household", content=body, headers={"Content-Type": "application/json"}
    )

    assert answer.status_code == 422


def test_health(client: httpx.Client, empty_client: httpx.Client) -> None:
    assert client.get("/health").json()["status"] == "ok"
    assert client.get("/health").json()["yard"] is True
    assert empty_client.get("/health").json()["yard"] is False


def test_every_deed_of_the_desk_is_there(app: FastAPI) -> None:
    """A command added to the desk must get its path."""

    def all_of(kind: type) -> set[type]:
        return {kind} | {found for sub in kind.__subclasses__() for found in all_of(sub)}

    commands = {kind.__name__ for kind in all_of(Command) if kind.__module__.startswith("rickyard.")} - {
        "Command"
    }
    schemas = app.openapi()["components"]["schemas"]

    assert commands - set(schemas) == set()


def test_bodies_become_commands_unchanged() -> None:
    """Nested parts and tuples come out as the desk's own classes."""
    from rickyard.desk.stacking import Dimensions, PiecesFacts, StackUp

    body = body_model(StackUp).model_validate(
        {
            "key": "k" * 12,
            "sources": [[3, 0.5]],
            "pieces": {"name": "A", "piece_length_m": 0.4, "thickness_m": 0.1, "stacked_on": "2026-04-01"},
            "outside": {"length_m": 2.0, "heights_m": [1.0, 1.2]},
        }
    )
    command = command_of(StackUp, body)

    assert isinstance(command, StackUp)
    assert isinstance(command.pieces, PiecesFacts)
    assert command.outside == Dimensions(length_m=2.0, heights_m=(1.0, 1.2))
    assert command.sources == ((3, 0.5),)


def test_computations_answer_as_the_commands_do(client: httpx.Client) -> None:
    """The keys of the commands, on cases that can be done by hand."""
    log = client.get("/api/measure/log", params={"length_m": 2.0, "mid_d_m": 0.5}).json()
    assert log["formula"] == "huber"
    assert log["volume_m3"] == pytest.approx(math.pi / 4 * 0.25 * 2.0)
    stack = client.get(
        "/api/measure/stack",
        params={
            "length_m": 8 * 0.3048,
            "height_m": [4 * 0.3048],
            "piece_length_m": 4 * 0.3048,
            "species": "white ash",
        },
    ).json()
    assert stack["cords"] == pytest.approx(1.0)
    assert stack["outside_ft3"] == pytest.approx(128.0)
    assert stack["solid_m3"]["low"] < stack["solid_m3"]["mid"] < stack["solid_m3"]["high"]
    # 20 % of the total mass is water: dry mass is eight tenths.
    assert stack["oven_dry_kg"] == pytest.approx(0.8 * stack["kg"])
    assert stack["kg_spread"]["low"] < stack["kg"] < stack["kg_spread"]["high"]
    assert stack["million_btu_spread"]["mid"] == pytest.approx(stack["million_btu"])
    leaning = client.get(
        "/api/measure/stack",
        params={"length_m": 3, "height_m": [1.2], "piece_length_m": 0.4, "lean_deg": 60, "crisscross_m": 0.4},
    )
    assert leaning.status_code == 422
    assert leaning.json()["error"]["field"] == "lean"
    heat = client.get("/api/heat", params={"name": ["white ash", "red spruce"]}).json()["rows"]
    assert [row["species"] for row in heat] == ["fraxinus_americana", "picea_rubens"]
    assert heat[0]["million_btu_per_cord"] > heat[1]["million_btu_per_cord"]
    assert client.get("/api/species/white ash").json()["id"] == "fraxinus_americana"
    meter = client.get("/api/season/meter", params={"name": "sugar maple", "reading": 20}).json()
    assert meter["mc_wet"] == pytest.approx(meter["mc_db"] / (1 + meter["mc_db"]))
    assert "cord" in client.get("/api/rules/measure/CA-NB").json()["units_allowed"]
    assert (
        client.get("/api/rules/wording/CA-NB", params={"text": "one face cord of maple"}).json()["ok"]
        is False
    )
    assert client.get("/api/species/unobtainium").status_code == 422


@pytest.mark.slow
def test_fuzzed_requests_never_fail(address: str) -> None:
    """Requests made from the OpenAPI document, right and wrong ones: no failure, and answers as documented.

    The tool's own checks: no 5xx; status, content type and schema of every answer are documented ones.
    """
    schema = schemathesis.openapi.from_url(f"{address}/api/openapi.json")
    few = settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    seen: list[str] = []
    for operation in (result.ok() for result in schema.get_all_operations()):

        def fuzz(case: schemathesis.Case) -> None:
            # The schema cannot say what is in the book, nor how figures hang together: 422 is an answer to such.
            case.call_and_validate(excluded_checks=[positive_data_acceptance])

        few(given(case=operation.as_strategy())(fuzz))()
        seen.append(operation.label)
    assert len(seen) > 35


def test_trees_are_named_as_on_the_command_line(client: httpx.Client) -> None:
    asked = {"answer": ["porosity=ring", "rays=broad", "plugged=open?"], "situation": "lens", "region": "NE"}
    found = client.get("/api/identify", params=asked).json()

    assert sum(row["probability"] for row in found["ranking"]) + found["not_listed"] == pytest.approx(1.0)
    assert found["groups"][0]["group"] == "red oak group"
    assert len(found["look_next"]) == 3
    refused = client.get("/api/identify", params={"answer": "thorn=none"})
    assert refused.status_code == 422
    assert refused.json()["error"]["field"] == "character"
    assert "thorns" in refused.json()["error"]["message"]
