"""Sentences kept in the book: what `T_` made, as JSON and back."""

from __future__ import annotations

from typing import Any

from rickyard.text import Text


def text_to_json(text: Text) -> dict[str, Any]:
    return {
        "msgid": text.msgid,
        "values": {
            name: text_to_json(value) if isinstance(value, Text) else value
            for name, value in text.values.items()
        },
    }


def text_from_json(item: dict[str, Any]) -> Text:
    return Text(
        item["msgid"],
        {
            name: text_from_json(value) if isinstance(value, dict) else value
            for name, value in item["values"].items()
        },
    )
