"""The shelf of hubs: all measured hubs of a folder tree, found by words or dimensions."""

from hubsight.shelf.index import Shelf
from hubsight.shelf.model import ShelvedSide, shelf_figures
from hubsight.shelf.query import Query, holds, parse_query
from hubsight.shelf.repeats import Repeats, repeats
from hubsight.shelf.table import shelf_csv

__all__ = [
    "Query",
    "Repeats",
    "Shelf",
    "ShelvedSide",
    "holds",
    "parse_query",
    "repeats",
    "shelf_csv",
    "shelf_figures",
]
