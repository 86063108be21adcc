"""The yard's records: the tables, the journal of wood, deeds done once, migrations, and the check of it all.

The only package that opens a database, and only the desk and the jobs call it.
"""

from rickyard.book.aside import filled
from rickyard.book.book import Book
from rickyard.book.check import CheckReport, Kept, Problem, check
from rickyard.book.copies import (
    Copied,
    Made,
    back_up,
    export_archive,
    export_book,
    import_book,
    kept_in,
    restore,
)
from rickyard.book.deeds import do_once
from rickyard.book.files import FileStore
from rickyard.book.journal import (
    Move,
    StockKey,
    next_number,
    not_taken_back,
    portion,
    post,
    reverse,
    stock,
    stock_by_spot,
)

__all__ = [
    "Book",
    "CheckReport",
    "Copied",
    "FileStore",
    "Kept",
    "Made",
    "Move",
    "Problem",
    "StockKey",
    "back_up",
    "check",
    "do_once",
    "export_archive",
    "export_book",
    "filled",
    "import_book",
    "kept_in",
    "next_number",
    "not_taken_back",
    "portion",
    "post",
    "restore",
    "reverse",
    "stock",
    "stock_by_spot",
]
