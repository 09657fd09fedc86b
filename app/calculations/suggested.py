"""Which methods answer for a kind of hazard: by the words that its line uses.

The kinds are the author's own words, so the table beside this file names stems of words. It
only suggests: every method can be chosen for every line.
"""

from __future__ import annotations

import csv
import re
from functools import cache
from pathlib import Path

from assessments.method import Method
from assessments.methods import catalogue


def suggested(kind: str) -> list[Method]:
    """Return the methods for a kind of hazard such as "Laser beam", the likeliest first."""
    words = re.findall(r"\w+", kind.lower())
    ids = [method for stem, method in _table() if any(word.startswith(stem) for word in words)]
    return [catalogue()[each] for each in dict.fromkeys(ids)]


@cache
def _table() -> tuple[tuple[str, str], ...]:
    with Path(__file__).with_name("kinds.csv").open(encoding="utf-8", newline="") as file:
        return tuple((row["word"], row["method"]) for row in csv.DictReader(file))
