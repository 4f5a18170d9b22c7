"""A workbook as bytes, whose properties name this program and no other."""

from __future__ import annotations

import io
import re
import zipfile
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl import Workbook

PROGRAM = "scaleup"
PROPERTIES = "docProps/app.xml"
CORE = "docProps/core.xml"
TIMES = re.compile(rb"<dcterms:(created|modified)[^>]*>[^<]*</dcterms:\1>")
THEME = "xl/theme/theme1.xml"
SCRIPT_FONT = re.compile(rb"<a:font script=[^>]*/>")
"""Fonts for other scripts, which the workbook does without."""
NAMESPACE = "http://schemas.openxmlformats.org/officeDocument/2006/extended-properties"


def workbook_bytes(book: Workbook) -> bytes:
    """Return a workbook as XLSX; what the library says of the writer is put right.

    The library names itself as the author, and another program as the one that saved the file and
    as the source of its theme. No time is written, so that the same book gives the same bytes.
    """
    book.properties.creator = book.properties.lastModifiedBy = PROGRAM
    saved, out = io.BytesIO(), io.BytesIO()
    book.save(saved)
    with zipfile.ZipFile(saved) as parts, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as whole:
        for part in parts.infolist():
            entry = zipfile.ZipInfo(part.filename)  # of the earliest day the format has
            whole.writestr(entry, _own(part.filename, parts.read(part)), zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _own(name: str, data: bytes) -> bytes:
    if name == PROPERTIES:
        program = f"<Application>{PROGRAM}</Application>"
        return f'<Properties xmlns="{NAMESPACE}">{program}</Properties>'.encode()
    if name == CORE:
        return TIMES.sub(b"", data)
    if name == THEME:
        for given in (b'name="Office Theme"', b'name="Office"'):
            data = data.replace(given, f'name="{PROGRAM}"'.encode())
        data = SCRIPT_FONT.sub(b"", data)
    return data
