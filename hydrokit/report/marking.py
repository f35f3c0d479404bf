"""Text to HTML: Markdown without live markup, formulas without a script, terms marked where they are new."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING
from xml.etree.ElementTree import tostring

from latex2mathml.converter import convert_to_element
from mistune.plugins import import_plugin
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

from ..study.keyed import TAG
from .glossary import Explained

if TYPE_CHECKING:
    from mistune import BlockState

__all__ = ["formula", "markdown", "plain"]


class SafeRenderer(IPythonRenderer):
    """Markdown whose raw HTML shows as text and whose formulas need no script."""

    def __init__(self, explained: Explained | None = None) -> None:
        super().__init__(
            escape=True, allow_harmful_protocols=False, exclude_anchor_links=True, attachments={}
        )
        self.explained = explained
        self.plainly = 0  # within how many headings and links, where no term is marked

    def render_token(self, token: dict[str, object], state: BlockState) -> str:
        plainly = token["type"] in ("heading", "link")
        self.plainly += plainly
        try:
            return super().render_token(token, state)
        finally:
            self.plainly -= plainly

    def text(self, text: str) -> str:
        # An entity stays the character it stands for, as in any other Markdown.
        safe = html.escape(html.unescape(text), quote=False)
        return safe if self.explained is None or self.plainly else self.explained.marked(safe)

    def inline_html(self, text: str) -> str:
        # The key of a number, which hydrokit wrote itself: text of a file never holds a live "<".
        return text if TAG.fullmatch(text) else html.escape(text)

    def block_math(self, body: str) -> str:
        return f'<span class="formula" tabindex="0">{formula(body, "block")}</span>'

    def inline_math(self, body: str) -> str:
        return formula(body, "inline")

    def latex_environment(self, name: str, body: str) -> str:
        return self.block_math(rf"\begin{{{name}}}{body}\end{{{name}}}")

    def block_mermaidjs(self, code: str) -> str:
        return f"<pre><code>{html.escape(code)}</code></pre>"

    def image(self, text: str, url: str, title: str | None = None) -> str:
        # A page asks for nothing, so a picture must lie within it.
        return (
            super().image(text, url, title) if url.startswith("data:image/") else html.escape(text)
        )


# All that a notebook's Markdown may do, but for bare addresses: one in a name of a file's is text,
# and no link.
PLUGINS = [import_plugin(name) for name in MarkdownWithMath.DEFAULT_PLUGINS if name != "url"]


def markdown(source: str, explained: Explained | None = None) -> str:
    """Markdown as HTML without raw HTML, scripts or outside pictures; terms are marked where they are new."""
    return MarkdownWithMath(renderer=SafeRenderer(explained), plugins=PLUGINS).render(source)


def formula(latex: str, display: str) -> str:
    """A LaTeX formula as MathML, or as it was written where it makes no sense."""
    try:
        tree = convert_to_element(latex.strip("$ \n"), display=display)
    except Exception:  # the converter's own error classes are many and not all documented
        return f"<code>{html.escape(latex)}</code>"
    for each in tree.iter():
        for name in ("href", "class", "style", "id"):
            each.attrib.pop(name, None)
    # The converter keeps its symbols as character references within text. They
    # alone are undone here: its own writer undoes "&lt;" too and lets markup in.
    return re.sub(r"&amp;(#x[0-9A-Fa-f]+;)", r"&\1", tostring(tree, encoding="unicode"))


def plain(markup: str) -> str:
    """The text of some HTML."""
    return html.unescape(re.sub(r"<[^>]*>", "", markup)).strip()
