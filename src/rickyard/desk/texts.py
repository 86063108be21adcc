"""Sentences kept in the book: what `T_` made, as JSON and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple
from datetime import date
from typing import Any

from rickyard.text import Text, TreeName


def text_to_json(text: Text) -> dict[str, Any]:
    return {"msgid": text.msgid, "values": values_to_json(text.values)}


def text_from_json(item: Mapping[str, Any]) -> Text:
    return Text(item["msgid"], values_from_json(item["values"]))


def values_to_json(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _to_json(value) for name, value in values.items()}


def values_from_json(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _from_json(value) for name, value in values.items()}


def _to_json(value: Any) -> Any:
    """A day and a tree stay what they are, so that each language writes them its own way."""
    if isinstance(value, Text):
        return text_to_json(value)
    if isinstance(value, TreeName):
        return {"tree": astuple(value)}
    if isinstance(value, date):
        return {"day": value.isoformat()}
    return value


def _from_json(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    if "day" in value:
        return date.fromisoformat(value["day"])
    if "tree" in value:
        return TreeName(*value["tree"])
    return text_from_json(value)
