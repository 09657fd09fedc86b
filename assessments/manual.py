"""The page of a manual about each method, from its declaration: docstring and table are made here.

What a declaration says once is repeated nowhere by hand, so that it cannot disagree.
"""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import dedent, indent
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from assessments.method import AnyInput, Method, Output

_WIDTH = 96

RAISES = (
    "Refused: an input is missing, unknown, of the wrong kind or in a unit of another kind, or "
    "inputs contradict each other.",
    "OutOfRange: a number, or more than one draw in a hundred, lies outside its range.",
)


def docstring(method: Method) -> str:
    """Return a method's docstring: its own words first, then all that its declaration holds."""
    own, prompt, example = _own(method).partition(">>> ")
    parts = [
        own.strip(),
        _filled(f"Answers: {method.answers}"),
        _filled(method.equation, margin="    "),
        _listed("Arguments", (argument(each) for each in method.inputs)),
        _listed("Returns a Result with the outputs", (returned(each) for each in method.outputs)),
        _listed("Raises, when calculated with its checks", RAISES),
        _listed("Sources", (f"[{n}] {each}" for n, each in enumerate(method.sources, start=1))),
        _filled(f"Holds for: {method.validity}"),
    ]
    if prompt:
        parts.append("Example\n\n" + indent((prompt + example).strip(), "    "))
    return "\n\n".join(part for part in parts if part) + "\n"


def _own(method: Method) -> str:
    first, _, rest = (method.function.__doc__ or "").partition("\n")
    return f"{first}\n{dedent(rest)}"


def argument(each: AnyInput) -> str:
    """Say what an input means, what it may be, in which unit, and when it may be left out."""
    words = each.meaning.rstrip(".")
    wanted = f"{each.argument}: {words}; {each.asked}"
    if each.when:
        wanted += f"; only when {each.when[0]} is {' or '.join(each.when[1])}"
    if each.default is not None:
        wanted += f"; {each.default} where it is None"
    elif each.optional:
        wanted += "; or None"
    return f"{wanted}."


def returned(each: Output) -> str:
    """Say what an output means and in which unit it is."""
    unit = f" [{each.unit}]" if each.unit else ""
    options = f": {', '.join(each.options)}" if each.options else ""
    absent = "; not always there" if each.optional else ""
    return f"{each.name}{unit}: {each.meaning.rstrip('.')}{options}{absent}."


def _listed(title: str, lines: Iterator[str] | tuple[str, ...]) -> str:
    return "\n".join([title, *(_filled(line, margin="    ") for line in lines)])


def _filled(words: str, *, margin: str = "") -> str:
    """Break words into lines; `textwrap` would cost a third of the import of all methods."""
    lines, line = [], margin
    for word in words.split(" "):
        if len(line) + len(word) > _WIDTH and line.strip():
            lines.append(line.rstrip())
            line = margin * 2
        line += f"{word} "
    return "\n".join([*lines, line.rstrip()])
