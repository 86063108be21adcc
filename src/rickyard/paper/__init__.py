"""What is handed out: tickets, the drying calendar to hang up, sheets of trees, of cutting and splitting.

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
from rickyard.paper.cutsheet import (
    MOST_LOGS_ON_PAPER,
    CutSheetData,
    SplitSheetData,
    mark_boxes,
    picture_cut_sheet,
    picture_split_sheet,
    render_cut_sheet,
    render_split_sheet,
)
from rickyard.paper.sheet import (
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
from rickyard.paper.typeset import STANDING_MM

__all__ = [
    "CALENDAR_PAGES_MM",
    "CAUTIONS",
    "MOST_LOGS_ON_PAPER",
    "PAGES_MM",
    "STANDING_MM",
    "CalendarBlock",
    "CalendarData",
    "CalendarEntry",
    "CutSheetData",
    "Dryness",
    "Party",
    "SheetData",
    "SheetLook",
    "SheetPart",
    "SheetRow",
    "SheetState",
    "SplitSheetData",
    "TicketData",
    "TicketLine",
    "entry_kind",
    "entry_words",
    "mark_boxes",
    "picture_calendar",
    "picture_cut_sheet",
    "picture_sheet",
    "picture_split_sheet",
    "picture_ticket",
    "render_calendar",
    "render_cut_sheet",
    "render_sheet",
    "render_split_sheet",
    "render_ticket",
    "ticket_name",
    "ticket_texts",
]
