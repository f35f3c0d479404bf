"""The words of the glossary that shown text must keep to: what it may not say, and what it says instead."""

import re

__all__ = ["wrong_words"]

# Not -> but. Where a word has another sense too, only the sense that misleads is looked for.
NOT = {
    r"\bdoubt(s|ed|ful)?\b": "uncertainty",
    r"\bluck of the years\b": "year-to-year variability",
    r"\bgive or take\b|\bstrays? by\b": "±; repeatability",
    r"\bnine (years |days |times )?in ten\b|\b19 times in 20\b": "90 %, 95 % interval",
    r"\bmiddling\b|\bmiddle (day|case|year)\b": "median",
    r"\benergy of use\b|\bkWh of use\b": "useful energy (demand met)",
    r"\bfirst cost\b": "capital cost",
    r"\bworth over its life\b|\bworth less cost\b": "net present value; net annual benefit",
    r"\binterest it earns\b|\bpayback with interest\b": "internal rate of return; discounted payback",
    r"\b(what|that) binds\b|\bbinding part\b": "limiting component",
    r"\beats\b|\btakes of its head\b": "head loss",
    r"(?<!hydraulic )\bgrade line\b": "hydraulic grade line",
    r"\bsummits?\b": "high point",
    r"\b(stage|weir) board\b": "staff gauge; weir plate",
    r"\b(bar|tilted) rack\b|\btilted screen\b": "trash rack; inclined wedge-wire screen",
    r"\bafloat\b": "buoyancy",
    r"\bplanted faults?\b|\bfaults are planted\b": "seeded fault",
    r"\bof the evidence\b|\ba worse fit\b": "posterior probability; p-value",
    r"(?<!\()\bstarv\w+": "under-fed (starved)",
    r"\breckoned\b|\bto be won\b": "calculated; gain available",
    r"\bfit of 100\b": "a score with its scale and rule",
    r"\bstands still\b|\bhunts\b": "steady, stopped; fluctuates",
    r"\bask the maker\b|\bthe maker'?s\b|\bmachine's maker\b": "manufacturer",
}
PATTERNS = {re.compile(wrong, re.IGNORECASE): right for wrong, right in NOT.items()}


def wrong_words(text):
    """What a text says that the glossary says better, each with the words around it."""
    return [
        f"…{text[max(0, found.start() - 40) : found.end() + 20]}… say {right}"
        for pattern, right in PATTERNS.items()
        for found in pattern.finditer(text)
    ]
