"""A list of jobs as a spreadsheet saves it: each row read, or refused by name with its reason."""

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Final

from config.errors import DomainError
from config.sentence import Sentence

MOST_ROWS: Final = 10_000
MOST_CHARACTERS: Final = 5_000_000
# Each column with the most characters that it holds; the first four are needed.
COLUMNS: Final[Mapping[str, int]] = {
    "customer": 120,
    "title": 120,
    "street": 160,
    "city": 80,
    "postcode": 20,
    "country": 2,
    "email": 254,
    "phone": 40,
    "due": 10,
    "note": 5_000,
}
NEEDED: Final = ("customer", "title", "street", "city")


class UnreadableList(DomainError):
    """What came is no list of jobs."""

    slug = "list-not-readable"


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedJob:
    """One row that can be taken in; `line` is where it stands in the file."""

    line: int
    customer: str
    title: str
    street: str
    city: str
    postcode: str
    country: str
    email: str
    phone: str
    due_on: date | None
    note: str

    def as_tree(self) -> dict[str, Any]:
        return asdict(self) | {"due_on": self.due_on.isoformat() if self.due_on else None}


@dataclass(frozen=True, slots=True, kw_only=True)
class BadRow:
    """One row that cannot be taken in, and what is wrong with it."""

    line: int
    text: str
    why: Sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class JobList:
    jobs: tuple[ListedJob, ...]
    bad: tuple[BadRow, ...]


def from_tree(tree: Mapping[str, Any]) -> ListedJob:
    """The row that `ListedJob.as_tree` gave."""
    due = tree["due_on"]
    return ListedJob(**{**tree, "due_on": date.fromisoformat(due) if due else None})


def read(text: str, *, country: str) -> JobList:
    """Read a list with a head line; `country` is of rows that name none.

    Columns may come in any order, parted by commas, semicolons or tabs. Raises UnreadableList.
    """
    if len(text) > MOST_CHARACTERS:
        raise UnreadableList(Sentence("The list is too long. Send it in parts."), pointer="#/text")
    head, *rest = text.lstrip("\ufeff").splitlines() or [""]
    parted_by = max(",;\t", key=head.count)
    names = [name.strip().lower() for name in next(csv.reader([head], delimiter=parted_by), [])]
    _check_head(names)
    jobs: list[ListedJob] = []
    bad: list[BadRow] = []
    seen: dict[tuple[str, ...], int] = {}
    for line, cells in _rows("\n".join(rest), parted_by):
        if line - 1 > MOST_ROWS:
            raise UnreadableList(
                Sentence(
                    "At most {most} rows are taken at once. Send it in parts.", most=MOST_ROWS
                ),
                pointer="#/text",
            )
        given = {name: cell.strip() for name, cell in zip(names, cells, strict=False)}
        wrong = _wrong(given, len(cells), len(names))
        key = tuple(given.get(name, "").casefold() for name in ("customer", "title", "street"))
        if wrong is None and key in seen:
            wrong = Sentence("It is the same as line {line}.", line=seen[key])
        if wrong is not None:
            bad.append(BadRow(line=line, text=parted_by.join(cells)[:200], why=wrong))
            continue
        seen[key] = line
        jobs.append(_listed(line, given, country))
    if not jobs and not bad:
        raise UnreadableList(Sentence("The list has a head and no rows."), pointer="#/text")
    return JobList(jobs=tuple(jobs), bad=tuple(bad))


def _check_head(names: list[str]) -> None:
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise UnreadableList(
            Sentence(
                "The first line names the columns. Missing: {missing}. Known: {known}.",
                missing=", ".join(missing),
                known=", ".join(COLUMNS),
            ),
            pointer="#/text",
        )
    unknown = [name for name in names if name not in COLUMNS]
    if unknown or len(set(names)) < len(names):
        raise UnreadableList(
            Sentence(
                "These columns are unknown or named twice: {names}. Known: {known}.",
                names=", ".join(unknown or sorted({n for n in names if names.count(n) > 1})),
                known=", ".join(COLUMNS),
            ),
            pointer="#/text",
        )


def _rows(text: str, parted_by: str) -> Iterator[tuple[int, list[str]]]:
    """Rows that say something, each with its line in the file: the head is line 1."""
    reader = csv.reader(io.StringIO(text), delimiter=parted_by)
    line = 2
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield line, cells
        line = reader.line_num + 2


def _wrong(given: Mapping[str, str], cells: int, columns: int) -> Sentence | None:
    if cells != columns:
        return Sentence(
            "It has {cells} cells, the head has {columns}.", cells=cells, columns=columns
        )
    for name in NEEDED:
        if not given[name]:
            return Sentence("{column} is empty.", column=name)
    for name, text in given.items():
        if len(text) > COLUMNS[name]:
            return Sentence(
                "{column} is longer than {most} characters.", column=name, most=COLUMNS[name]
            )
        if "\x00" in text:
            return Sentence("{column} has a character that no text has.", column=name)
    if given.get("country") and not re.fullmatch("[A-Za-z]{2}", given["country"]):
        return Sentence("country is two letters, such as NO or US.")
    if given.get("email") and not re.fullmatch(
        r"[^@\s<>,;]+@[^@\s<>,;]+\.[^@\s<>,;]+", given["email"]
    ):
        return Sentence("“{text}” is no e-mail address.", text=given["email"])
    if given.get("due"):
        try:
            date.fromisoformat(given["due"])
        except ValueError:
            return Sentence("“{text}” is no day. Write it as 2026-12-01.", text=given["due"])
    return None


def _listed(line: int, given: Mapping[str, str], country: str) -> ListedJob:
    due = given.get("due")
    return ListedJob(
        line=line,
        customer=given["customer"],
        title=given["title"],
        street=given["street"],
        city=given["city"],
        postcode=given.get("postcode", ""),
        country=(given.get("country") or country).upper(),
        email=given.get("email", ""),
        phone=given.get("phone", ""),
        due_on=date.fromisoformat(due) if due else None,
        note=given.get("note", ""),
    )
