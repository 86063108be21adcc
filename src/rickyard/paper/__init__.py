"""What is handed out: tickets.

`render_ticket(TicketData) -> bytes` is the PDF; `ticket_texts` is its wording, for the check of words.
"""

from rickyard.paper.ticket import (
    CAUTIONS,
    PAGES_MM,
    Dryness,
    Party,
    TicketData,
    TicketLine,
    picture_ticket,
    render_ticket,
    ticket_name,
    ticket_texts,
)

__all__ = [
    "CAUTIONS",
    "PAGES_MM",
    "Dryness",
    "Party",
    "TicketData",
    "TicketLine",
    "picture_ticket",
    "render_ticket",
    "ticket_name",
    "ticket_texts",
]
