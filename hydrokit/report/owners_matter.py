"""What the owner lays beside a study to be shown: notes, and pictures scaled and stripped of where
they were taken."""

from __future__ import annotations

import io
import warnings
from base64 import b64encode
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import InputError, one_line
from ..files import read_text
from .display import Words, escape_markdown

__all__ = ["Photograph", "notes", "pictures"]

NOTES, PICTURES = "notes.md", "pictures"
MOST = 12  # pictures shown: a page is still to be mailed
LONGEST_SIDE = 1000  # pixels: some 150 dots an inch across a sheet
LARGEST = 40_000_000  # bytes of one file
MOST_PIXELS = (
    60_000_000  # held at once: a camera's, which a JPEG of more is scaled down to as it is read
)
SUFFIXES = (".jpg", ".jpeg", ".png")


def notes(folder: Path) -> Words | None:
    """The owner's notes as text: paragraphs and bullets, no other mark-up."""
    path = folder / NOTES
    if path.is_symlink() or not path.is_file():
        return None
    try:
        text = read_text(path)
    except InputError as error:
        return Words(f"*The notes are not shown: {escape_markdown(str(error))}.*")
    lines = []
    for line in text.splitlines():
        bullet = line.lstrip()[:2] in ("- ", "* ")
        plain = line.lstrip("#-* ").strip()
        lines.append(f"- {escape_markdown(plain)}" if bullet else escape_markdown(plain))
    return Words("\n".join(lines))


@dataclass(frozen=True, eq=False)
class Photograph:
    """A picture of the owner's.

    Parameters
    ----------
    jpeg : bytes
        Scaled down, without place, time or camera.
    caption : str
        The file's name in words.
    """

    jpeg: bytes
    caption: str

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> tuple[dict, dict]:
        data = {"image/jpeg": b64encode(self.jpeg).decode(), "text/plain": self.caption}
        return data, {"image/jpeg": {"alt": f"The owner's picture: {self.caption}"}}


def pictures(folder: Path) -> list[Words | Photograph]:
    """The pictures of a study in the order of their names, each below its caption; those that
    cannot be read are told."""
    shown: list[Words | Photograph] = []
    place = folder / PICTURES
    if place.is_symlink() or not place.is_dir():
        return shown
    files = sorted(each for each in place.iterdir() if each.suffix.lower() in SUFFIXES)
    for path in files[:MOST]:
        caption = one_line(path.stem.replace("_", " "))
        try:
            shown += [Words(f"**{escape_markdown(caption)}**"), Photograph(_scaled(path), caption)]
        except (OSError, ValueError) as error:
            shown.append(
                Words(
                    f"*{escape_markdown(one_line(path.name))} is not shown: "
                    f"{escape_markdown(one_line(error))}.*"
                )
            )
    if len(files) > MOST:
        shown.append(Words(f"*{len(files) - MOST} more pictures are not shown.*"))
    return shown


def _scaled(path: Path) -> bytes:
    """A picture as a small JPEG that holds nothing but its pixels."""
    from PIL import Image, ImageOps

    if path.is_symlink():
        raise ValueError("a link is not followed")
    if not path.is_file():
        raise ValueError("it is a folder, a device or a pipe; a file is needed")
    if path.stat().st_size > LARGEST:
        raise ValueError(f"the file is larger than {LARGEST // 1_000_000} MB")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what is too large is refused below
            with Image.open(path, formats=("JPEG", "PNG")) as opened:
                opened.draft("RGB", (2 * LONGEST_SIDE, 2 * LONGEST_SIDE))
                fits = opened.width * opened.height <= MOST_PIXELS
                made = ImageOps.exif_transpose(opened).convert("RGB") if fits else None
    except Image.DecompressionBombError:
        made = None
    except Exception as error:  # whatever a library of pictures meets in spoilt bytes
        raise ValueError("it cannot be read as a picture") from error
    if made is None:
        raise ValueError("it has too many pixels; save it smaller")
    made.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = Image.new("RGB", made.size)
    bare.paste(made)
    buffer = io.BytesIO()
    bare.save(buffer, "JPEG", quality=80)
    return buffer.getvalue()
