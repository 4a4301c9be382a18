"""Plain text from a file: ordinary files only, in UTF-8, without characters that do not print."""

from __future__ import annotations

import os
import re
import stat
import unicodedata
from pathlib import Path

from surge_sim.errors import Fault

#: control characters, invisible ones, those that turn the direction of text, other line ends
_HIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e"
    "\u2060-\u206f\ud800-\uf8ff\ufeff\ufff9-\uffff\U000e0000-\U000e0fff\U000f0000-\U0010ffff]"
)
#: with more of them, it is no text
_MOST_HIDDEN = 100
_UTF_8 = "Save the file as plain text in UTF-8; in a spreadsheet, choose CSV in UTF-8."
#: how files begin that are no text
_PACKED = (b"PK\x03\x04", b"\x1f\x8b", b"\xd0\xcf\x11\xe0", b"%PDF")


def read_bytes(path: Path, most: int) -> bytes:
    """Read an ordinary file of at most `most` bytes.

    Raises
    ------
    OSError
        If it cannot be read; ``strerror`` says why, in words that go on a sentence.
    """
    try:
        # without waiting for whoever writes to a pipe
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", getattr(os, "O_BINARY", 0)))
    except FileNotFoundError:
        raise OSError(0, "there is no such file") from None
    except ValueError:
        raise OSError(0, "its name cannot be that of a file") from None
    try:
        status = os.fstat(handle)
        if stat.S_ISDIR(status.st_mode):
            raise OSError(0, "it is a folder")
        if not stat.S_ISREG(status.st_mode):
            raise OSError(0, "it is not an ordinary file")
        with open(handle, "rb", closefd=False) as stream:
            data = stream.read(most + 1) if status.st_size <= most else b""
    finally:
        os.close(handle)
    if status.st_size > most or len(data) > most:
        raise OSError(0, f"it is larger than {most:,} bytes")
    return data


def why_unreadable(error: OSError) -> str:
    """Say why a file cannot be read, to go on a sentence."""
    return (error.strerror or "the system refuses").lower()


def text_of(data: bytes, file: str) -> tuple[str | None, list[Fault]]:
    """Decode a file; what is wrong is told, and the rest is read as it was probably meant.

    Parameters
    ----------
    data : bytes
        What is in the file.
    file : str
        Its name, for messages.

    Returns
    -------
    text : str or None
        With every line end as a line feed, and without what does not print; None if it is no text.
    faults : list of Fault
        With their lines.
    """
    faults: list[Fault] = []
    if data.startswith(_PACKED):
        found = "is not plain text, but a packed file, such as a workbook."
        return None, [Fault(file, 0, found, "Export it as plain text (a table as CSV) in UTF-8.")]
    coding = _coding(data)
    if coding != "utf-8-sig":
        faults.append(Fault(file, 0, f"is in {coding.upper()}.", _UTF_8))
    try:
        text = data.decode(coding)
    except UnicodeDecodeError as error:
        if faults:
            return None, faults
        text = data.decode("cp1252", "ignore")
        line = data[: error.start].count(b"\n") + 1
        word = data[error.start : error.start + 1].decode("cp1252", "replace")
        found = f"is not in UTF-8; in Latin-1 (Windows-1252) a character here would be '{word}'."
        faults.append(Fault(file, line, found, _UTF_8))
    cleaned, hidden = cleaned_text(text, file)
    return cleaned, faults + hidden


def cleaned_text(text: str, file: str) -> tuple[str | None, list[Fault]]:
    """Do the same as :func:`text_of` for text that is decoded already."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    hidden = list(_HIDDEN.finditer(text))
    if len(hidden) > _MOST_HIDDEN:
        found = f"is not plain text: {len(hidden):,} of its characters do not print."
        return None, [Fault(file, 0, found, _UTF_8)]
    faults, line, counted = [], 1, 0
    for one in hidden:
        line += text.count("\n", counted, one.start())
        counted = one.start()
        faults.append(Fault(file, line, *hidden_character(one[0])))
    return (_HIDDEN.sub("", text) if hidden else text), faults


def hidden_in(text: str) -> str | None:
    """Return the first character of a text that does not print; line feeds and tabs do."""
    found = _HIDDEN.search(text)
    return found[0] if found else None


def hidden_character(one: str) -> tuple[str, str]:
    """Say that a character does not print, and what to do."""
    name = unicodedata.name(one, "a control character").lower()
    found = f"holds a character that does not print: U+{ord(one):04X} ({name})."
    return found, "Delete it, or type the text here anew."


def _coding(data: bytes) -> str:
    """Tell the encoding from how the file begins."""
    if data.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        return "utf-32"
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    sample = data[:200]
    if len(sample) < 3 * sample.count(b"\x00") < 2 * len(sample):
        return "utf-16-be" if sample[0] == 0 else "utf-16-le"
    return "utf-8-sig"
