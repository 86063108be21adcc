"""The yard's records: the tables, the journal of wood, deeds done once, migrations, and the check of it all.

The only package that opens a database, and only the desk and the jobs call it.
"""

from rickyard.book.book import Book
from rickyard.book.check import CheckReport, Problem, check
from rickyard.book.deeds import do_once
from rickyard.book.files import FileStore
from rickyard.book.journal import Move, StockKey, next_number, portion, post, reverse, stock, stock_by_spot

__all__ = [
    "Book",
    "CheckReport",
    "FileStore",
    "Move",
    "Problem",
    "StockKey",
    "check",
    "do_once",
    "next_number",
    "portion",
    "post",
    "reverse",
    "stock",
    "stock_by_spot",
]
