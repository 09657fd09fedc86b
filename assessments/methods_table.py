"""The table of all calculation methods, made from their declarations.

    python -m assessments.methods_table

writes ``assessments/methods/README.md``; a test fails when that is older than a declaration.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

from assessments.manual import returned
from assessments.method import AnyInput, Choice, Method, Rows
from assessments.methods import catalogue

PLACE = Path(__file__).parent / "methods" / "README.md"

HEAD = """\
# Calculation methods

Made by `python -m assessments.methods_table` from the declarations beside each function; change
those, not this. Every method can be asked on the web, by `chuckkey calc METHOD name=value ...` and
as JSON. Each refuses rather than guesses; none replaces a competent person, and limits differ by
country and change. A source that is marked *from memory* waits for a published one to confirm it.

Both ends of a range belong to it. The unit 1 is a plain number. Any number that is not a whole one
may be uncertain: `normal(40,4)`, `uniform(0.1,0.3)`, `lognormal(2,1.5)`, `triangular(1,2,4)`.
"""

FAMILIES = {
    "air": "Air",
    "contact": "Hot surfaces",
    "day": "Several exposures of a day",
    "dust": "Combustible dust",
    "gas": "Gas and oxygen",
    "guard": "Guards",
    "laser": "Laser radiation",
    "lifting": "Lifting",
    "noise": "Noise",
    "rating": "Rating",
    "uv": "Ultraviolet",
    "vibration": "Vibration",
    "welding": "Welding",
    "wheel": "Abrasive wheels",
}


def table() -> str:
    """Return the whole page as Markdown."""
    parts = [HEAD]
    for family, methods in groupby(catalogue().values(), key=lambda method: method.family):
        members = list(methods)
        parts.append(f"## {FAMILIES.get(family, family.capitalize())}\n")
        parts.append("\n".join(_summary(members)))
        parts += ["\n".join(_method(each)) for each in members]
    return "\n".join(parts)


def _summary(methods: list[Method]) -> Iterator[str]:
    yield "| id | what it answers | gives | bands |"
    yield "| --- | --- | --- | --- |"
    for each in methods:
        gives = ", ".join(_with_unit(output.name, output.unit) for output in each.outputs)
        bands = ", ".join(band.value for band in each.bands)
        yield _row(f"[`{each.id}`](#{_anchor(each)})", each.answers, gives, bands)
    yield ""


def _method(method: Method) -> Iterator[str]:
    yield f"### `{method.id}`\n"
    yield f"{method.title}: {method.answers}\n"
    yield f"    {method.equation}\n"
    yield "| input | unit | what it may be | meaning |"
    yield "| --- | --- | --- | --- |"
    for each in method.inputs:
        yield from _input(each)
    yield "\n| output | unit | meaning |"
    yield "| --- | --- | --- |"
    for output in method.outputs:
        meaning = returned(output).partition(": ")[2]
        yield _row(f"`{output.name}`", output.unit, meaning)
    if method.one_of:
        groups = (
            " or ".join(" with ".join(group) for group in each.groups) for each in method.one_of
        )
        yield f"\nExactly one of these is given: {'; '.join(groups)}."
    yield f"\nHolds for: {method.validity}\n"
    yield f"Edition {method.edition}; bands it may give: {', '.join(method.bands)}.\n"
    yield "Sources:\n"
    for count, source in enumerate(method.sources, start=1):
        yield f"{count}. {source}"
    yield ""


def _input(each: AnyInput) -> Iterator[str]:
    unit = getattr(each, "unit", "")
    asked = (
        f"a list of {each.least} to {each.most} rows with the columns below"
        if isinstance(each, Rows)
        else each.asked
    )
    yield _row(f"`{each.name}`", unit, f"{asked}{_absent(each)}", _meaning(each))
    if isinstance(each, Rows):
        for column in each.columns:
            unit = getattr(column, "unit", "")
            yield _row(f"– `{column.name}`", unit, column.asked, _meaning(column))


def _meaning(each: AnyInput) -> str:
    if not isinstance(each, Choice):
        return each.meaning
    return (
        f"{each.meaning}: {'; '.join(f'{word} = {means}' for word, means in each.options.items())}"
    )


def _absent(each: AnyInput) -> str:
    when = f", only when {each.when[0]} is {' or '.join(each.when[1])}" if each.when else ""
    if each.default is not None:
        return f"{when}; {each.default} if not given"
    return f"{when}; may be left out" if each.optional else when


def _with_unit(name: str, unit: str) -> str:
    return f"`{name}` [{unit}]" if unit else f"`{name}`"


def _anchor(method: Method) -> str:
    return method.id.replace(".", "")


def _row(*cells: str) -> str:
    return f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


if __name__ == "__main__":
    PLACE.write_text(table(), "utf-8")
