"""Whether a workbook can be read in little memory and time, before it is turned into objects.

A workbook is a packed folder of XML. Its parts are gone through once, piece by piece, and counted;
nothing that the file says of its own size is believed.
"""

from __future__ import annotations

import io
import math
import zipfile
from pyexpat import ExpatError, ParserCreate, XMLParserType

from scaleup.errors import Fault, InputError

UNPACKED_LIMIT = 60_000_000
ELEMENT_LIMIT = 3_000_000
"""XML elements of all parts; a table of 10,000 rows and 100 columns has two a cell."""
CHILD_LIMIT = 16_384
"""Elements directly inside another: the format has no more columns (ECMA-376)."""
MANY = ("sheetData", "sst")
"""Elements that may hold more: the rows of a sheet, and the texts that its cells share."""
DEPTH_LIMIT = 64
TEXT_LIMIT = 1_000_000
"""Characters of one text; a cell has up to 32,767 (ECMA-376), other parts may have more."""
PACKING = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
PIECE = 1 << 16


class _TooMuchError(Exception):
    """What a part has too much of, and how much is allowed."""


def refuse_bomb(data: bytes, shown: str) -> None:
    """Refuse a workbook that would unpack to more than can be worked with.

    Raises
    ------
    InputError
        If its parts are larger than 60 MB together, have too many elements, too many inside one
        another or side by side, too long a text, or declare a document type; or if they are packed
        in another way.
    zipfile.BadZipFile
        Or another error of reading, if the file is damaged.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as whole:
        parts = whole.infolist()
        size = sum(part.file_size for part in parts)  # more is never unpacked of a part
        if size > UNPACKED_LIMIT:
            found = f"a workbook of {size / 1e6:.0f} MB unpacked"
            raise InputError(Fault(shown, "", found, f"up to {UNPACKED_LIMIT / 1e6:g} MB"))
        counter = _Counter()
        try:
            for part in parts:
                _count(whole, part, counter)
        except _TooMuchError as error:
            found, allowed = error.args
            mend = "Save the table alone in a new workbook, or as CSV."
            raise InputError(Fault(shown, "", found, allowed, mend)) from None


def _count(whole: zipfile.ZipFile, part: zipfile.ZipInfo, counter: _Counter) -> None:
    if part.compress_type not in PACKING:
        raise _TooMuchError("a workbook packed in an unusual way", "a workbook as programs save it")
    parser = counter.parser()
    with whole.open(part) as file:
        try:
            while piece := file.read(PIECE):
                parser.Parse(piece, False)
        except ExpatError:
            return  # a picture, or damaged: then its reader says so


class _Counter:
    """Counts the elements of all parts; within each part, their depth, children and text."""

    def __init__(self) -> None:
        self.elements = 0
        self.children: list[float] = []
        self.text = 0

    def parser(self) -> XMLParserType:
        """Return a parser of one part."""
        self.children, self.text = [0], 0
        parser = ParserCreate(namespace_separator="}")
        parser.StartElementHandler = self._begin
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        parser.StartDoctypeDeclHandler = _refuse_doctype
        parser.buffer_text = True
        return parser

    def _begin(self, name: str, _: dict[str, str]) -> None:
        self.elements += 1
        self.text = 0
        self.children[-1] += 1
        if self.elements > ELEMENT_LIMIT:
            raise _TooMuchError("more cells than a run table has", "up to a million cells")
        if self.children[-1] > CHILD_LIMIT:
            told = f"more than {CHILD_LIMIT} elements {_local(name)[:40]} in a row"
            raise _TooMuchError(told, "up to 100 columns")
        if len(self.children) > DEPTH_LIMIT:
            raise _TooMuchError("elements nested too deep", f"up to {DEPTH_LIMIT} levels")
        self.children.append(-math.inf if _local(name) in MANY else 0)

    def _end(self, _: str) -> None:
        self.children.pop()
        self.text = 0

    def _characters(self, text: str) -> None:
        self.text += len(text)
        if self.text > TEXT_LIMIT:
            told = f"a text of more than {TEXT_LIMIT} characters"
            raise _TooMuchError(told, "texts as a cell can hold them")


def _local(name: str) -> str:
    return name.rpartition("}")[2]


def _refuse_doctype(*_: object) -> None:
    raise _TooMuchError("a document type in a workbook", "none, since no program writes one")
