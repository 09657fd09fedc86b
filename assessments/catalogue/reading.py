"""From the text of a TOML file to a kind, or every reason why it is none.

The text may come from anybody: its size is limited, nothing in it is run, and the calculations
that it proposes are only those of this program, with inputs that these check themselves.

One file is checked so::

    python -c "import sys; from assessments.catalogue.reading import read_file; \
        read_file(sys.argv[1])" assessments/catalogue/kinds/potters-wheel.toml

It says nothing where the file is in order and ends with every sentence otherwise.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from assessments.catalogue.computing import uncomputable
from assessments.catalogue.kind import Kind
from assessments.catalogue.rules import broken
from assessments.catalogue.shape import Shape

LARGEST = 256 * 1024  # bytes of UTF-8; the largest of ours has about 30 000

# The parser's work grows with the square of the parts of a dotted key, and a key is within one
# line. No line of prose or of starting inputs comes near.
MOST_DOTS = 400
MOST_SENTENCES = 60


class Defective(ValueError):
    """A text is no kind of the catalogue; ``sentences`` names the file and every field at fault."""

    def __init__(self, name: str, sentences: list[str]) -> None:
        shown = sentences[:MOST_SENTENCES]
        if len(sentences) > MOST_SENTENCES:
            shown.append(f"There are {len(sentences) - MOST_SENTENCES} more.")
        self.sentences = tuple(f"{name}: {each}" for each in shown)
        super().__init__("\n".join(self.sentences))


def read_kind(text: str, *, name: str) -> Kind:
    """Return the kind that a text describes.  Raises Defective with every reason against it.

    ``name`` is the file's name, for the sentences. Every calculation whose inputs are all
    given is done once, so that nobody opens a form that its own starting values break.
    """
    kind = parse_kind(text, name=name)
    sentences = [*broken(kind), *uncomputable(kind)]
    if sentences:
        raise Defective(name, sentences)
    return kind


def parse_kind(text: str, *, name: str) -> Kind:
    """Return the kind with its shape checked alone.  Raises Defective.

    For the files of this program, whose rules and calculations its tests have proved.
    """
    shape = Shape()
    kind = shape.table(Kind, _parsed(text, name), "")
    if not isinstance(kind, Kind) or shape.sentences:
        raise Defective(name, shape.sentences)
    return kind


def read_file(path: str) -> Kind:
    """Return the kind of a file, whose name must be its key.  Raises Defective."""
    file = Path(path)
    kind = read_kind(file.read_text("utf-8"), name=file.name)
    if file.name != f"{kind.key}.toml":
        raise Defective(file.name, [f"key is {kind.key}; the file must be {kind.key}.toml."])
    return kind


def _parsed(text: str, name: str) -> dict[str, Any]:
    if len(text.encode("utf-8", "replace")) > LARGEST:
        raise Defective(name, [f"the file is larger than {LARGEST // 1024} kB."])
    for count, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > MOST_DOTS:
            raise Defective(name, [f"line {count} has more than {MOST_DOTS} full stops."])
    try:
        return tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError, or Python's own at a number of 5 000 digits
        raise Defective(name, [f"this is no TOML: {str(error)[:200]}."]) from None
    except RecursionError:
        raise Defective(name, ["this is no TOML of ours: lists within lists."]) from None
