"""Units of the one system that must not be seen in the other."""

import re

METRIC = re.compile(r"\d\s?(L/s|m³/s|bar|mm|m/s|°C|kPa)(?![\w/])|\[(L/s|m|mm|bar|°C)\]")
US = re.compile(
    r"\d\s?(gpm|ft³/s|psi|ft|in(?! (?:the|a|an|all|each|one)\b)|°F|ft/s)(?![\w/])|\[(gpm|ft|in|psi|°F)\]"
)
