"""Findings as drawings, where people would rather look than read.

Each returns a Plot: the drawing as inline SVG, and the same facts as a table, so that a
screen reader and a black-and-white print lose nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from assessments.finding import Finding

# Runs the method again with some of its inputs changed, and returns its outputs.
Run: TypeAlias = Callable[..., Mapping[str, Any]]


@dataclass(frozen=True, kw_only=True)
class Plot:
    """A drawing with its table; ``rows`` hold the words of each cell below ``columns``."""

    title: str
    desc: str
    svg: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


Draw: TypeAlias = Callable[[Run, Mapping[str, Any], Finding], Plot | None]
