"""What is handed out: tickets, the drying calendar to hang up, the sheets of trees.

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
from rickyard.paper.sheet import (
    SHEET_PAGES_MM,
    SheetData,
    SheetLook,
    SheetPart,
    SheetRow,
    SheetState,
    picture_sheet,
    render_sheet,
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
    "SHEET_PAGES_MM",
    "CalendarBlock",
    "CalendarData",
    "CalendarEntry",
    "Dryness",
    "Party",
    "SheetData",
    "SheetLook",
    "SheetPart",
    "SheetRow",
    "SheetState",
    "TicketData",
    "TicketLine",
    "entry_kind",
    "entry_words",
    "picture_calendar",
    "picture_sheet",
    "picture_ticket",
    "render_calendar",
    "render_sheet",
    "render_ticket",
    "ticket_name",
    "ticket_texts",
]
