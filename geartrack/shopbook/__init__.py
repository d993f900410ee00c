"""The shop's book: one SQLite file of jobs, quotes, readings and outcomes, in which nothing is overwritten."""

from geartrack.shopbook.book import Book, Record
from geartrack.shopbook.entry import Entry
from geartrack.shopbook.file import default_place

__all__ = ["Book", "Entry", "Record", "default_place"]
