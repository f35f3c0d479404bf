"""A whole study as one document: its pages joined, a list of contents before them, each term explained once.

It is made of finished pages, and holds nothing that they do not hold: what is text there is text here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field
from pathlib import PurePosixPath
from urllib.parse import unquote

import jinja2
from bs4 import BeautifulSoup, Tag
from markupsafe import Markup

from .arranged import ONCE
from .html import CONTENT_POLICY, TEMPLATES, style

__all__ = ["Leaf", "joined"]

STORY = "index"
TERMS = "terms"
# Attributes that name another part of the same page, or several.
_NAMING = ("for", "headers", "aria-labelledby", "aria-describedby", "aria-controls")


@dataclass(frozen=True)
class Leaf:
    """A finished page.

    Parameters
    ----------
    name : str
        Its file's without ending: ``index``, ``05_annual_energy``.
    text : str
        The page, as HTML.
    """

    name: str
    text: str


@dataclass
class _Part:
    name: str
    title: str
    markup: str
    _: KW_ONLY
    number: str = ""
    sections: list[tuple[str, str]] = field(default_factory=list)


def joined(leaves: Sequence[Leaf], sheets: Mapping[str, int] | None = None) -> str:
    """One document of the pages of a study.

    Parameters
    ----------
    leaves : sequence of Leaf
        The page of the whole story first, then the others in their order.
    sheets : mapping, optional
        Part or section to the sheet on which it begins, as printed; a document for the screen has no
        such numbers.

    Returns
    -------
    str
        HTML under the same content policy as the pages.
    """
    names = {leaf.name: f"p-{leaf.name}" for leaf in leaves}
    terms: dict[str, Tag] = {}
    parts: list[_Part] = []
    study = opening = ""
    for leaf in leaves:
        main = _main_of(leaf)
        _taken_out(main, terms)
        _named_anew(main, names, leaf.name)
        heading = main.find("h1")
        title = _words(heading) if isinstance(heading, Tag) else leaf.name
        if leaf.name == STORY:
            head = main.find("header")
            opening = str(head.extract()) if isinstance(head, Tag) else ""
            study, title = title, "The whole story"
        number = leaf.name[:2].lstrip("0") if leaf.name[0].isdigit() else ""
        part = _Part(names[leaf.name], title, "", number=number)
        if leaf.name != STORY:
            part.sections = _sections(main, part.name)
        part.markup = main.decode_contents(formatter="html5")
        parts.append(part)
    if terms:
        parts.append(_Part(TERMS, "Terms", _explained(terms)))

    def sheet(name: str) -> Markup:
        # A place for each number in the first print too, so that the second falls on the same sheets.
        if sheets is None:
            return Markup("")
        return Markup('<span class="sheet">{}</span>').format(sheets.get(name, "000"))

    room = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return room.get_template("book.html.j2").render(
        title=study,
        policy=CONTENT_POLICY,
        css=style(),
        opening=opening,
        parts=parts,
        sheet=sheet,
    )


def _words(tag: Tag) -> str:
    return " ".join(tag.get_text().split())


def _main_of(leaf: Leaf) -> Tag:
    found = BeautifulSoup(leaf.text, "html.parser").find("main")
    if not isinstance(found, Tag):
        raise ValueError(f"{leaf.name} is no page of a report: it has no <main>")
    return found


def _taken_out(main: Tag, terms: dict[str, Tag]) -> None:
    """Take out what the document has once: what stands on the page of the whole story, and the
    terms, which are kept."""
    for each in main.find_all(class_=ONCE):
        each.decompose()
    for section in main.find_all("section", class_="terms"):
        for name in section.find_all("dt"):
            meaning = name.find_next_sibling("dd")
            if isinstance(meaning, Tag):
                terms.setdefault(str(name.get("id", "")), meaning).attrs["data-name"] = _words(name)
        section.extract()


def _named_anew(main: Tag, names: Mapping[str, str], own: str) -> None:
    """Make every name of a page one of the whole document, and every link one within it."""
    for each in main.find_all(id=True):
        each["id"] = f"{names[own]}-{each['id']}"
    for attribute in _NAMING:
        for each in main.find_all(None, attrs={attribute: True}):
            words = " ".join(each.get_attribute_list(attribute)).split()
            each[attribute] = " ".join(f"{names[own]}-{word}" for word in words)
    for link in main.find_all("a", href=True):
        file, _, place = str(link["href"]).partition("#")
        page = PurePosixPath(unquote(file)).stem if file else own
        if place.startswith("term-") and not file:
            link["href"] = f"#{place}"
        elif page in names and (not file or unquote(file) == f"{page}.html"):
            link["href"] = f"#{names[page]}-{place}" if place else f"#{names[page]}"
        elif not file.startswith(("http://", "https://", "mailto:")):
            link.unwrap()  # a file that does not travel with the document


def _sections(main: Tag, name: str) -> list[tuple[str, str]]:
    """Name and title of each section, for the list of contents; those folded away are left out."""
    found = []
    for number, heading in enumerate(main.find_all("h2"), 1):
        if heading.find_parent("details") is None:
            anchor = f"{name}-{number}"
            heading["id"] = anchor
            found.append((anchor, _words(heading)))
    return found


def _explained(terms: Mapping[str, Tag]) -> str:
    """Every term that a page explains, once."""
    made = BeautifulSoup("", "html.parser")
    section = made.new_tag("section", attrs={"class": "terms"})
    heading, listed = made.new_tag("h1"), made.new_tag("dl")
    heading.string = "Terms"
    for anchor, meaning in sorted(
        terms.items(), key=lambda each: str(each[1]["data-name"]).lower()
    ):
        name = made.new_tag("dt", attrs={"id": anchor})
        name.string = str(meaning.attrs.pop("data-name"))
        listed.extend([name, meaning])
    section.extend([heading, listed])
    return section.decode(formatter="html5")
