"""A zip that lists the SHA-256 of each of its members, so that a changed copy shows.

The list is its last member and in the form that `sha256sum --check` reads. Equal members give an
equal list, and an equal file.
"""

import os
import re
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import IO
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from config.errors import DomainError

LIST = "SHA256SUMS"
LINE = re.compile(r"([0-9a-f]{64})  (.+)")
PIECE_BYTES = 1 << 20
MOST_TOLD = 10
LONGEST_LIST_BYTES = 1 << 28

Write = Callable[[bytes], None]


class ArchiveNotUsable(DomainError):
    """What is wrong with an archive, by the names of its members."""

    slug = "archive-not-usable"


class ArchiveWriter:
    """Writes one archive into `file`; memory grows by half a kilobyte for each member."""

    def __init__(self, file: IO[bytes]) -> None:
        self._zip = ZipFile(file, "w", allowZip64=True)
        self._lines: list[str] = []

    @contextmanager
    def member(self, name: str, *, squeeze: bool = True) -> Iterator[Write]:
        """A member to write in pieces. `squeeze` is for text: papers and photos are dense."""
        digest = sha256()
        with self._zip.open(_told(name, squeeze=squeeze), "w", force_zip64=True) as out:

            def write(piece: bytes) -> None:
                digest.update(piece)
                out.write(piece)

            yield write
        self._lines.append(f"{digest.hexdigest()}  {name}\n")

    def add(self, name: str, source: IO[bytes]) -> None:
        """A member with all that is left in `source`."""
        with self.member(name, squeeze=False) as write:
            while piece := source.read(PIECE_BYTES):
                write(piece)

    def close(self) -> str:
        """Write the list; returns its SHA-256, which stands for the whole archive."""
        whole = "".join(self._lines).encode()
        self._zip.writestr(_told(LIST, squeeze=True), whole)
        self._zip.close()
        return sha256(whole).hexdigest()


@contextmanager
def new_file(path: Path) -> Iterator[IO[bytes]]:
    """A file that was not there yet, for its owner's eyes only; gone again if the block fails.

    Raises OSError.
    """
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        try:
            yield file
        except BaseException:
            path.unlink()
            raise


class ArchiveReader:
    """Reads an archive. Raises ArchiveNotUsable if `file` is none."""

    def __init__(self, file: IO[bytes]) -> None:
        try:
            self._zip = ZipFile(file)
            names = self._zip.namelist()
            if LIST not in names:
                raise ArchiveNotUsable(f"It has no list of digests ({LIST}).")
            if self._zip.getinfo(LIST).file_size > LONGEST_LIST_BYTES:
                raise ArchiveNotUsable(f"{LIST} is too long to be a list of digests.")
            whole = self._zip.read(LIST)
        except BadZipFile as error:
            raise ArchiveNotUsable(f"This is no whole zip: {error}.") from error
        if twice := [name for name, times in Counter(names).items() if times > 1]:
            raise ArchiveNotUsable(f"It has more than one {', '.join(twice[:MOST_TOLD])}.")
        self.digest = sha256(whole).hexdigest()
        self.digests = _read(whole)
        self.names = frozenset(names) - {LIST}

    def require_whole(self) -> None:
        """Read all of it; raises ArchiveNotUsable naming what is changed, missing or not told."""
        wrong = [f"{name} is missing" for name in sorted(set(self.digests) - self.names)]
        wrong += [f"{name} is not in the list" for name in sorted(self.names - set(self.digests))]
        for name in sorted(self.names & set(self.digests)):
            if len(wrong) >= MOST_TOLD:
                break
            if not self._matches(name):
                wrong.append(f"{name} was changed")
        if wrong:
            raise ArchiveNotUsable(f"{'; '.join(wrong[:MOST_TOLD])}.")

    def open(self, name: str) -> IO[bytes]:
        return self._zip.open(name)

    def _matches(self, name: str) -> bool:
        digest = sha256()
        try:
            with self._zip.open(name) as member:
                while piece := member.read(PIECE_BYTES):
                    digest.update(piece)
        except BadZipFile:  # the zip's own sum of this member does not match
            return False
        return digest.hexdigest() == self.digests[name]


def _told(name: str, *, squeeze: bool) -> ZipInfo:
    info = ZipInfo(name)  # of 1980: the same content gives the same bytes
    info.compress_type = ZIP_DEFLATED if squeeze else ZIP_STORED
    info.external_attr = 0o600 << 16
    return info


def _read(whole: bytes) -> dict[str, str]:
    digests: dict[str, str] = {}
    for number, line in enumerate(whole.decode("utf-8", "replace").splitlines(), start=1):
        match = LINE.fullmatch(line)
        if match is None or match[2] in digests:
            raise ArchiveNotUsable(f"Line {number} of {LIST} tells no digest.")
        digests[match[2]] = match[1]
    return digests
