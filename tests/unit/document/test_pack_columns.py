"""Every column of the pack is wide enough to read: no word is broken letter by letter."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

from assessments.document.pack import Column
from assessments.document.renderer import FOLDER

UPRIGHT_MM, WIDE_MM = 170, 257  # between the margins of print.css
LEAST_MM = 20
STYLE = (FOLDER / "print.css").read_text()
WIDE = {"competence", "extraction"}

contents = importlib.import_module("app.pack.contents")
MODULES = sorted(path.stem for path in Path(contents.__path__[0]).glob("[a-z]*.py"))
TABLES = [
    (module, name)
    for module in MODULES
    for name, value in vars(importlib.import_module(f"app.pack.contents.{module}")).items()
    if isinstance(value, tuple) and value and all(isinstance(each, Column) for each in value)
]


@pytest.mark.parametrize(("module", "name"), TABLES)
def test_what_is_left_for_columns_without_a_width_can_be_read(module, name):
    columns = getattr(importlib.import_module(f"app.pack.contents.{module}"), name)
    room = WIDE_MM if module in WIDE else UPRIGHT_MM
    free = [column for column in columns if not column.mm]
    left = room - sum(column.mm for column in columns)
    assert left >= LEAST_MM * len(free)


@pytest.mark.parametrize(("module", "name"), TABLES)
def test_every_width_is_one_of_the_style_sheet(module, name):
    columns = getattr(importlib.import_module(f"app.pack.contents.{module}"), name)
    styled = {int(mm) for mm in re.findall(r"\.mm-(\d+) \{ width: \1mm", STYLE)}
    assert {column.mm for column in columns} - {0} <= styled
