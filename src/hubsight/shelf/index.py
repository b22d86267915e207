"""The index of a shelf: an SQLite file beside the jobs, made from their records and kept up to date.

It holds nothing that the records do not hold: delete it, and the next call makes it again.
"""

from __future__ import annotations

import os
import sqlite3
import time
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from hubsight.job.file.problems import JobFileError, one_problem
from hubsight.model.catalogue import ON_SHELF
from hubsight.model.files import LARGEST_RESULT
from hubsight.record.migrate import parse_record
from hubsight.record.store import RECORD_FILE
from hubsight.shelf.model import NUMBERS, TEXTS, Measured, ShelvedSide, shelved_sides
from hubsight.shelf.query import Query

INDEX_FILE = ".hubsight-hubs.sqlite"
"""In the tree's top folder."""
SETTLING_NS = 2_000_000_000
"""What changed so recently may change again within the same tick of the file system's clock (2 s on some)."""

UNSETTLED = -1
"""In place of the time of a change that is too recent: it is looked at again next time."""

TOP = ""
"""The tree's top, as all paths are from there, with forward slashes."""

_COLUMNS = (
    *TEXTS,
    "photos",
    *NUMBERS,
    *(f"{name}{part}" for name in ON_SHELF for part in ("", "_u")),
    "words",
)
"""Columns of the sides' table."""

_TABLES = f"""
CREATE TABLE folders (path TEXT PRIMARY KEY, changed INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE records (path TEXT PRIMARY KEY, changed INTEGER NOT NULL, problem TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE sides ({", ".join(_COLUMNS)});
CREATE INDEX sides_record ON sides (record);
"""
"""The tables: folders and records with the time of their last change, and sides."""
INDEX_VERSION = zlib.crc32(_TABLES.encode()) & 0x7FFFFFFF
"""Version of these tables; an index of another one is made again."""


class _Walk:
    """A walk through a folder tree: its folders and records, with the times of their last change."""

    def __init__(self, top: str) -> None:
        self.folders: dict[str, int] = {}
        self.records: dict[str, int] = {}
        self._top = top
        self._now = time.time_ns()

    def change_time(self, path: str) -> int | None:
        """Return when something changed; `UNSETTLED` while that is too recent; None if it is gone."""
        try:
            changed = os.stat(f"{self._top}/{path}", follow_symlinks=False).st_mtime_ns  # noqa: PTH116
        except OSError:
            return None
        return changed if self._now - changed > SETTLING_NS else UNSETTLED

    def into(self, folder: str) -> None:
        """Go through a folder and those in it; a job's own folders are not looked into, nor are links."""
        changed = self.change_time(folder)
        if changed is None:
            return
        inner, has_record = list[str](), False
        try:
            with os.scandir(os.path.join(self._top, folder)) as entries:  # noqa: PTH118
                for entry in entries:
                    path = f"{folder}/{entry.name}" if folder else entry.name
                    if entry.is_dir(follow_symlinks=False):
                        inner += [path] * (not entry.name.startswith("."))
                    elif _is_record(entry):
                        has_record = True
                        self.records[path] = self.change_time(path) or UNSETTLED
        except OSError:
            return
        self.folders[folder] = changed
        for path in inner:
            if not has_record and path not in self.folders:
                self.into(path)


class Shelf:
    """All measured hubs of a folder tree.

    Parameters
    ----------
    folder
        The tree's top.
    rebuild
        Make the index again from the records.

    Raises
    ------
    JobFileError
        If there is no such folder.

    Notes
    -----
    Where the folder cannot be written the index is kept in memory only, and made at each call.
    """

    def __init__(self, folder: Path, *, rebuild: bool = False) -> None:
        if not folder.is_dir():
            raise one_problem(str(folder), "there is no such folder", "Name the folder that holds the jobs")
        self.folder = folder
        if rebuild:
            _remove(folder / INDEX_FILE)
        self._index = _open(folder / INDEX_FILE)

    def close(self) -> None:
        """Close the index."""
        self._index.close()

    def __enter__(self) -> Shelf:
        """Return the shelf; it is closed at the end."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the index."""
        self.close()

    def refresh(self) -> None:
        """Bring the index up to date: records that came, changed or went."""
        folders = dict(self._index.execute("SELECT path, changed FROM folders"))
        records = dict(self._index.execute("SELECT path, changed FROM records"))
        found = self._changed(folders, records)
        gone = [path for path in records if path not in found.records]
        fresh = [
            path
            for path, changed in found.records.items()
            if changed == UNSETTLED or records.get(path) != changed
        ]
        with self._index:
            self._forget(gone)
            for path in fresh:
                self._take(path, found.records[path])
            if found.folders != folders:
                self._index.execute("DELETE FROM folders")
                self._index.executemany("INSERT INTO folders VALUES (?, ?)", found.folders.items())

    def _changed(self, folders: dict[str, int], records: dict[str, int]) -> _Walk:
        """Look at every known folder and record once, and walk only where something changed."""
        walk = _Walk(str(self.folder))
        for path, before in folders.items():
            if before != UNSETTLED and walk.change_time(path) == before:
                walk.folders[path] = before
        for path in records:
            changed = walk.change_time(path)
            if changed is not None:
                walk.records[path] = changed
        for path in [path for path in (*folders, TOP) if path not in walk.folders]:
            walk.into(path)
        return walk

    def _forget(self, paths: Sequence[str]) -> None:
        for table, column in (("records", "path"), ("sides", "record")):
            self._index.executemany(f"DELETE FROM {table} WHERE {column} = ?", ((path,) for path in paths))

    def _take(self, path: str, changed: int) -> None:
        """Read a record into the index; one that cannot be read is kept in mind with the reason."""
        self._forget([path])
        problem, sides = "", []
        try:
            sides = [_row(side) for side in self._read(path)]
        except JobFileError as error:
            problem = str(error)
        self._index.execute("INSERT INTO records VALUES (?, ?, ?)", (path, changed, problem))
        places = ", ".join("?" * len(_COLUMNS))
        self._index.executemany(f"INSERT INTO sides VALUES ({places})", sides)

    def _read(self, path: str) -> Iterator[ShelvedSide]:
        try:
            with (self.folder / path).open("rb") as stream:
                content = stream.read(LARGEST_RESULT)
        except OSError as error:
            raise one_problem(path, f"this cannot be read ({error.strerror})", "Check it") from error
        return shelved_sides(parse_record(content, path), path)

    def find(self, query: Query, *, most: int | None = None) -> list[ShelvedSide]:
        """Return the sides for which everything in a query holds, the newest first.

        Parameters
        ----------
        query
            What is looked for.
        most
            Largest number of sides that is returned.
        """
        where, values = _conditions(query)
        limit = "" if most is None else f" LIMIT {int(most)}"
        rows = self._index.execute(
            f"SELECT * FROM sides WHERE {where} ORDER BY measured_at DESC, record, side{limit}",
            values,
        )
        return [self._side(row) for row in rows]

    def count(self, query: Query) -> int:
        """Return for how many sides everything in a query holds."""
        where, values = _conditions(query)
        (number,) = self._index.execute(f"SELECT COUNT(*) FROM sides WHERE {where}", values).fetchone()
        return int(number)

    def problems(self) -> list[str]:
        """Return why records could not be read, a sentence each."""
        return [row[0] for row in self._index.execute("SELECT problem FROM records WHERE problem > ''")]

    def _side(self, row: sqlite3.Row) -> ShelvedSide:
        known: dict[str, Any] = {name: row[name] for name in (*TEXTS, "photos", *NUMBERS)}
        figures = {name: Measured(row[name], row[f"{name}_u"]) for name in ON_SHELF if row[name] is not None}
        return ShelvedSide(**known, figures=figures)


def _open(file: Path) -> sqlite3.Connection:
    """Open an index; one that is damaged or of another version is made again."""
    for attempt in (1, 2):
        try:
            return _prepared(sqlite3.connect(file, timeout=20.0))
        except sqlite3.OperationalError:  # the folder cannot be written
            break
        except sqlite3.DatabaseError:
            _remove(file)
            if attempt == 2:
                break
    return _prepared(sqlite3.connect(":memory:"))


def _prepared(index: sqlite3.Connection) -> sqlite3.Connection:
    try:
        index.row_factory = sqlite3.Row
        (version,) = index.execute("PRAGMA user_version").fetchone()
        if version not in (0, INDEX_VERSION):
            raise sqlite3.DatabaseError("another version")
        if version == 0:
            index.executescript(f"BEGIN; {_TABLES} PRAGMA user_version = {INDEX_VERSION}; COMMIT;")
    except BaseException:
        index.close()
        raise
    return index


def _remove(file: Path) -> None:
    for part in (file, file.with_name(f"{file.name}-journal")):
        try:
            part.unlink(missing_ok=True)
        except OSError:
            return


def _is_record(entry: os.DirEntry[str]) -> bool:
    named = entry.name == RECORD_FILE or entry.name.endswith(f".{RECORD_FILE}")
    return named and not entry.name.startswith(".") and entry.is_file(follow_symlinks=False)


def _row(side: ShelvedSide) -> tuple[object, ...]:
    figures = [part for name in ON_SHELF for part in side.figures.get(name, (None, None))]
    plain = [getattr(side, name) for name in (*TEXTS, "photos", *NUMBERS)]
    return (*plain, *figures, side.words)


def _conditions(query: Query) -> tuple[str, list[object]]:
    """Return the query as SQL with its values apart."""
    where, values = ["1"], list[object]()
    for word in query.words:
        where.append("words LIKE ? ESCAPE '\\'")
        values.append("%" + "".join(f"\\{c}" if c in "%_\\" else c for c in word) + "%")
    for span in query.spans:  # their names come from a fixed list
        where.append(f"{span.name} BETWEEN ? AND ?")
        values += [span.low, span.high]
    for name in ("bosses", "crosses"):
        if getattr(query, name) is not None:
            where.append(f"{name} = ?")
            values.append(getattr(query, name))
    return " AND ".join(where), values
