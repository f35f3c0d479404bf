"""Page 03: how parts are named in its sentences."""

from __future__ import annotations

import numpy as np

from ....study.answer import Answer
from ....study.view import View
from ...display import escape_markdown

__all__ = []


def limits_verb(name: str) -> str:
    return "limit" if name.endswith(("jets", "machines")) else "limits"


def with_article(name: str) -> str:
    return f"the {escape_markdown(name)}" if not name.startswith("the ") else escape_markdown(name)


def shown_part(view: View, answer: Answer | None) -> str:
    """The part that answers a question, with its article and under its key."""
    text = escape_markdown(view.shown(answer))
    return text if answer is None or str(answer.value).startswith("the ") else f"the {text}"


def shown_flow(view: View, answer: Answer | None, flow_m3s: float | None) -> str:
    """A flow under the key of the question that it answers, where it is the answer's."""
    if flow_m3s is None:
        return view.shown(None)
    if answer is not None and np.isclose(flow_m3s, answer.value, rtol=1e-6):
        return view.shown(answer)
    return view.text(flow_m3s, "flow")


def capitalised(text: str) -> str:
    """The first letter of a sentence, the rest as it is written."""
    return text[0].upper() + text[1:]


def place(view: View, metres: float) -> str:
    """A distance along the pipe."""
    return view.text(metres, "length")
