"""Plain text from a file: ordinary files only, in UTF-8, without characters that do not print."""

from __future__ import annotations

import re
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


def read_bytes(path: Path, most: int) -> bytes:
    """Read an ordinary file of at most `most` bytes.

    Raises
    ------
    OSError
        If it cannot be read; ``strerror`` says why, in words that go on a sentence.
    """
    try:
        size = path.stat().st_size
    except FileNotFoundError:
        raise OSError(0, "there is no such file") from None
    except ValueError:
        raise OSError(0, "its name cannot be that of a file") from None
    if path.is_dir():
        raise OSError(0, "it is a folder")
    if not path.is_file():  # reading a pipe would wait for whoever writes to it
        raise OSError(0, "it is not an ordinary file")
    if size > most:
        raise OSError(0, f"it is larger than {most:,} bytes")
    with path.open("rb") as stream:
        return stream.read(most)


def why_unreadable(error: OSError) -> str:
    """Say why a file cannot be read, to go on a sentence."""
    return (error.strerror or "the system refuses").lower()


def text_of(data: bytes, file: str) -> tuple[str | None, list[Fault]]:
    """Decode a file.

    Parameters
    ----------
    data : bytes
        What is in the file.
    file : str
        Its name, for messages.

    Returns
    -------
    text : str or None
        With every line end as a line feed, and without what does not print; None if it is no text
        in UTF-8.
    faults : list of Fault
        With their lines.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = 0 if b"\0" in data else data.count(b"\n", 0, error.start) + 1
        return None, [Fault(file, line, "is not plain text in UTF-8.", _UTF_8)]
    return cleaned_text(text, file)


def cleaned_text(text: str, file: str) -> tuple[str | None, list[Fault]]:
    """Do the same as :func:`text_of` for text that is decoded already."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    hidden = list(_HIDDEN.finditer(text))
    if len(hidden) > _MOST_HIDDEN:
        found = f"is not plain text: {len(hidden):,} of its characters do not print."
        return None, [Fault(file, 0, found, _UTF_8)]
    faults = [
        Fault(file, text.count("\n", 0, one.start()) + 1, *hidden_character(one[0]))
        for one in hidden
    ]
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
