"""The CSV file of a temperature logger, row by row, in bounded memory.

Bytes in (in pieces of any size), good rows and bad rows out. A bad row is reported with its line
and never stops the others. Encodings: UTF-8 with or without a byte order mark, UTF-16 with one,
else Windows-1252 (Latin-1 with signs). Separators: comma, semicolon, tab. Decimals: point, or comma
where the comma does not separate. Local times that come twice when the clocks go back are told
apart by the step of their logger; those that do not exist when they go forward are bad rows.
"""

import codecs
import csv
import re
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from config.errors import DomainError
from readings.air import COLDEST_C, HOTTEST_C

EARLIEST_YEAR, LATEST_YEAR = 2000, 2199
HEADER_WITHIN = 50  # lines of a logger's own remarks before the header
LONGEST_LINE = 4_096  # bytes; what is longer is cut and then a bad row
REMEMBERED = 10_000  # instants within which a repeat is noticed; the rest is the database's

TIME_NAMES = ("time", "date", "timestamp", "zeit", "datum", "fecha", "hora")
DATE_ALONE = ("date", "datum", "fecha")
HUMIDITY_NAMES = ("humid", "humed", "feucht", "%rh", "% rh", "rh %", "rh (", "r.h.")
TEMPERATURE_NAMES = ("temp", "celsius", "fahrenheit", "°c", "°f", "deg c", "deg f")

Unit = Literal["C", "F"]
DayOrder = Literal["ymd", "dmy", "mdy"]

_LOCAL = re.compile(
    r"(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})[T ]+(\d{1,2})[:.](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?"
    r"\s*(?:([AaPp])\.?[Mm]\.?)?"
)
_FAHRENHEIT = re.compile(r"°\s*f|\bf\b|fahrenheit|deg f", re.IGNORECASE)
_CELSIUS = re.compile(r"°\s*c|\bc\b|celsius|deg c", re.IGNORECASE)


class LogNotReadable(DomainError):
    """A file, or a mapping of its columns, from which nothing can be read."""

    slug = "log-not-readable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """How to read the file: columns by their header (case is no matter) or by number from 1.

    Columns left out are looked for by their usual names, the unit in the header of the
    temperatures. `time_column` is for a time of day that has a column of its own. `day_order` is
    asked for where dates are not written year first. `zone` holds for times without an offset.
    """

    zone: str
    unit: Unit | None = None
    at_column: str | int | None = None
    time_column: str | int | None = None
    temperature_column: str | int | None = None
    humidity_column: str | int | None = None
    day_order: DayOrder = "ymd"


class Row(NamedTuple):
    """A good row."""

    line: int
    at: datetime
    celsius: float
    humidity_percent: float | None = None


class BadRow(NamedTuple):
    """A row that could not be taken, and why."""

    line: int
    because: str


class Duplicate(NamedTuple):
    """A row that says again what an earlier one said."""

    line: int


@dataclass(slots=True)
class _Written:
    """When the row before was written, and how long after the one before it."""

    last: datetime | None = None
    step: timedelta | None = None

    def follow(self, at: datetime) -> None:
        if self.last is not None and at > self.last:
            self.step = at - self.last
        self.last = at

    def likelier(self, first: datetime, second: datetime) -> datetime:
        """Which of two like times of the hour that comes twice a row says, by its logger's step."""
        if self.last is None:
            return first
        if self.step is None:
            return first if first > self.last else second
        due = self.last + self.step
        return first if abs(first - due) < abs(second - due) else second


class _Layout(NamedTuple):
    separator: str
    at: int
    time: int | None
    temperature: int
    fahrenheit: bool
    humidity: int | None = None


def rows(pieces: Iterable[bytes], mapping: Mapping) -> Iterator[Row | BadRow | Duplicate]:
    """Read a log. Raises LogNotReadable at once if its zone, header or columns do not fit."""
    zone = _zone(mapping.zone)
    lines = enumerate(_lines(pieces), start=1)
    layout, first = _layout(lines, mapping)
    return _read(first, lines, layout, zone, mapping.day_order)


def _read(
    first: list[tuple[int, str]],
    lines: Iterator[tuple[int, str]],
    layout: _Layout,
    zone: ZoneInfo,
    day_order: DayOrder,
) -> Iterator[Row | BadRow | Duplicate]:
    seen: dict[datetime, float] = {}
    order: deque[datetime] = deque()
    written = _Written()
    for part in (first, lines):
        for number, line in part:
            if not line.strip(" \t,;\r"):
                continue
            try:
                at, celsius, humidity_percent = _row(line, layout, zone, day_order, written)
            except ValueError as problem:
                yield BadRow(number, str(problem))
                continue
            written.follow(at)
            if at not in seen:
                seen[at] = celsius
                order.append(at)
                if len(order) > REMEMBERED:
                    del seen[order.popleft()]
                yield Row(number, at, celsius, humidity_percent)
            elif seen[at] == celsius:
                yield Duplicate(number)
            else:
                yield BadRow(
                    number, f"Another row has another temperature at {at:%Y-%m-%d %H:%M}Z."
                )


def _row(
    line: str, layout: _Layout, zone: ZoneInfo, day_order: DayOrder, written: _Written
) -> tuple[datetime, float, float | None]:
    """Instant, temperature and humidity of a line; ValueError says what is wrong with it."""
    cells = _cells(line, layout.separator)
    if len(cells) <= max(layout.at, layout.temperature, layout.time or 0):
        raise ValueError(f"It has only {len(cells)} columns.")
    text = cells[layout.at].strip()
    if layout.time is not None:
        text = f"{text} {cells[layout.time].strip()}"
    celsius = _temperature(cells[layout.temperature], layout)
    humidity_percent = _humidity(cells, layout)
    return _instant(text, zone, day_order, written), celsius, humidity_percent


def _humidity(cells: Sequence[str], layout: _Layout) -> float | None:
    """The humidity of a line in percent; None where the file or the line has none."""
    if layout.humidity is None or layout.humidity >= len(cells):
        return None
    cell = cells[layout.humidity].strip()
    text = cell.casefold().removesuffix("rh").strip("% ")
    if not text:
        return None
    try:
        percent = float(text.replace(",", ".") if layout.separator != "," else text)
    except ValueError:
        raise ValueError(f"{cell!r} is no humidity.") from None
    if not 0 <= percent <= 100:
        raise ValueError(f"{percent:g} % is no humidity of air.")
    return percent


def _temperature(cell: str, layout: _Layout) -> float:
    text = cell.strip().rstrip("°CFcf ")
    if layout.separator != ",":
        text = text.replace(",", ".")
    try:
        value = float(text.replace("−", "-"))
    except ValueError:
        raise ValueError(f"{cell.strip()!r} is no temperature.") from None
    celsius = (value - 32) / 1.8 if layout.fahrenheit else value
    if not COLDEST_C <= celsius <= HOTTEST_C:
        unit = "°F" if layout.fahrenheit else "°C"
        raise ValueError(f"{value:g} {unit} is no temperature of a building site.")
    return round(celsius, 4)


def _instant(text: str, zone: ZoneInfo, day_order: DayOrder, written: _Written) -> datetime:
    try:
        # fromisoformat also takes a bare date, which says no time.
        at = datetime.fromisoformat(text) if len(text) > 10 else None
    except ValueError:
        at = None
    if at is None:
        at = _local(text, day_order)
    if not EARLIEST_YEAR <= at.year <= LATEST_YEAR:
        raise ValueError(f"The year {at.year} is no year of this job.")
    if at.tzinfo is not None:
        return at.astimezone(UTC)
    first = zone.utcoffset(at) or timedelta(0)
    second = zone.utcoffset(at.replace(fold=1)) or timedelta(0)
    utc = at.replace(tzinfo=UTC)
    if first == second:
        return utc - first
    if first < second:
        raise ValueError(f"{text} did not exist in {zone.key}: the clocks went forward.")
    return written.likelier(utc - first, utc - second)


def _local(text: str, day_order: DayOrder) -> datetime:
    found = _LOCAL.fullmatch(text)
    if not found:
        raise ValueError(f"{text!r} is no time.")
    one, two, three, hour, minute, second = (int(part or 0) for part in found.groups()[:6])
    if len(found[1]) == 4:
        year, month, day = one, two, three
    elif day_order == "ymd":
        raise ValueError(f"{text!r} is not written year first; say in which order it is.")
    else:
        day, month = (one, two) if day_order == "dmy" else (two, one)
        year = three if three > 99 else 2000 + three
    if half := found[7]:
        if not 1 <= hour <= 12:
            raise ValueError(f"{text!r} is no time.")
        hour = hour % 12 + (12 if half in "Pp" else 0)
    try:
        return datetime(year, month, day, hour, minute, second)  # noqa: DTZ001 (made aware above)
    except ValueError:
        raise ValueError(f"{text!r} is no time.") from None


def _layout(
    lines: Iterator[tuple[int, str]], mapping: Mapping
) -> tuple[_Layout, list[tuple[int, str]]]:
    """Separator and columns, and the first row where the file has no header."""
    asked = (mapping.at_column, mapping.time_column, mapping.temperature_column)
    numbered = isinstance(asked[0], int) and isinstance(asked[2], int)
    seen: list[str] = []
    for number, line in lines:
        if not line.strip():
            continue
        separator = max(";\t,", key=line.count)
        cells = [cell.strip().strip('"') for cell in _cells(line, separator)]
        columns = _columns(cells, mapping)
        if columns is not None:
            at, time, temperature = columns
            fahrenheit = _is_f(cells[temperature], mapping)
            humidity = _humidity_column(cells, mapping)
            layout = _Layout(separator, at, time, temperature, fahrenheit, humidity)
            # Columns by number may begin at once; a header has no figure for a temperature.
            headed = not (numbered and re.search(r"\d", cells[temperature]))
            return layout, [] if headed else [(number, line)]
        seen.append(line.strip()[:80])
        if len(seen) >= HEADER_WITHIN:
            break
    raise LogNotReadable(
        "No line at the head of the file names a column of times and one of temperatures. "
        f"Say which they are. It begins: {seen[0]!r}."
        if seen
        else "The file is empty.",
        pointer="#/file",
    )


def _columns(cells: Sequence[str], mapping: Mapping) -> tuple[int, int | None, int] | None:
    at = _column(cells, mapping.at_column, TIME_NAMES)
    temperature = _column(cells, mapping.temperature_column, TEMPERATURE_NAMES)
    if at is None or temperature is None:
        return None
    time = None if mapping.time_column is None else _column(cells, mapping.time_column, ())
    if mapping.time_column is not None and time is None:
        return None
    if mapping.at_column is None and cells[at].casefold() in DATE_ALONE and time is None:
        beside = _column(cells[at + 1 :], None, TIME_NAMES)
        time = None if beside is None else at + 1 + beside
    return None if at == temperature else (at, time, temperature)


def _column(cells: Sequence[str], asked: str | int | None, usual: Sequence[str]) -> int | None:
    if isinstance(asked, int):
        return asked - 1 if 1 <= asked <= len(cells) else None
    names = [cell.casefold() for cell in cells]
    if asked is not None:
        return names.index(wanted) if (wanted := asked.strip().casefold()) in names else None
    return next((i for i, name in enumerate(names) if any(part in name for part in usual)), None)


def _humidity_column(cells: Sequence[str], mapping: Mapping) -> int | None:
    """Where the humidity stands, if anywhere; refuses a column that is not there."""
    found = _column(cells, mapping.humidity_column, HUMIDITY_NAMES)
    if found is None and mapping.humidity_column is not None:
        raise LogNotReadable(
            f"There is no column {mapping.humidity_column!r}.", pointer="#/humidity_column"
        )
    return found


def _is_f(header: str, mapping: Mapping) -> bool:
    """Whether temperatures are Fahrenheit; refuses a unit that the header contradicts."""
    says_f, says_c = bool(_FAHRENHEIT.search(header)), bool(_CELSIUS.search(header))
    if (mapping.unit == "C" and says_f and not says_c) or (mapping.unit == "F" and says_c):
        raise LogNotReadable(
            f"The column {header!r} does not look like °{mapping.unit}. Check the unit.",
            pointer="#/unit",
        )
    return mapping.unit == "F" or (mapping.unit is None and says_f and not says_c)


def _cells(line: str, separator: str) -> list[str]:
    if '"' not in line:
        return line.split(separator)
    return next(csv.reader([line.replace("\r", " ")], delimiter=separator))


def _lines(pieces: Iterable[bytes]) -> Iterator[str]:
    """Decoded lines without their ends; longer ones are cut, so that memory stays bounded."""
    rest, cut = b"", False
    for piece in _marked(pieces):
        *whole, rest = (rest + piece).split(b"\n")
        for line in whole:
            if not cut:
                yield _decoded(line[:LONGEST_LINE])
            cut = False
        if len(rest) > LONGEST_LINE:
            if not cut:
                yield _decoded(rest[:LONGEST_LINE])
            rest, cut = b"", True
    if rest and not cut:
        yield _decoded(rest)


def _marked(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """The pieces without their byte order mark, UTF-16 turned into UTF-8."""
    decoder: codecs.IncrementalDecoder | None = None
    head, begun = b"", False
    for piece in pieces:
        if begun:
            yield decoder.decode(piece).encode() if decoder else piece
            continue
        head += piece
        if len(head) < 3:
            continue
        begun = True
        if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            decoder = codecs.getincrementaldecoder("utf-16")("replace")
            yield decoder.decode(head).encode()
        else:
            yield head.removeprefix(codecs.BOM_UTF8)
    if not begun:
        yield head


def _decoded(line: bytes) -> str:
    line = line.removesuffix(b"\r")
    try:
        return line.decode()
    except UnicodeDecodeError:
        return line.decode("cp1252", "replace")


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise LogNotReadable(
            f"There is no time zone {name!r}; write it like Europe/Oslo.", pointer="#/zone"
        ) from None
