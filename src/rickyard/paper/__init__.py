"""What is handed out: tickets, and the drying calendar to hang up.

`render_ticket(TicketData) -> bytes` is the PDF; `ticket_texts` is its wording, for the check of words.
"""

from rickyard.paper.calendar import (
    CALENDAR_PAGES_MM,
    CalendarBlock,
    CalendarData,
    CalendarEntry,
    entry_kind,
    entry_words,
    picture_calendar,
    render_calendar,
)
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
    "CALENDAR_PAGES_MM",
    "CAUTIONS",
    "PAGES_MM",
    "CalendarBlock",
    "CalendarData",
    "CalendarEntry",
    "Dryness",
    "Party",
    "TicketData",
    "TicketLine",
    "entry_kind",
    "entry_words",
    "picture_calendar",
    "picture_ticket",
    "render_calendar",
    "render_ticket",
    "ticket_name",
    "ticket_texts",
]
