"""The two pages for people say what the program is; these tests fail when they fall behind."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.clearance.decision import Code
from app.cli import commands
from app.people.rights import Role

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SETTINGS = sorted(
    set(re.findall(r"CHUCKKEY_[A-Z_]+", (ROOT / "app" / "settings.py").read_text(encoding="utf-8")))
)


@pytest.mark.parametrize("setting", SETTINGS)
def test_every_setting_is_named_in_both_pages(setting):
    assert f"`{setting}`" in README
    assert f"`{setting}`" in DEVELOPERS


@pytest.mark.parametrize("command", sorted(commands.commands))
def test_every_command_is_named_for_developers(command):
    assert f"`{command}`" in DEVELOPERS


@pytest.mark.parametrize("role", Role)
def test_every_role_is_named_for_developers(role):
    assert f"`{role.value}`" in DEVELOPERS


@pytest.mark.parametrize("code", Code)
def test_every_reason_is_in_the_table_of_the_rules(code):
    short = code.value.removeprefix("induction")
    assert f"`{code.value}`" in DEVELOPERS or f"`{short}`" in DEVELOPERS


@pytest.mark.parametrize(
    "folder", sorted(p.parent.name for p in (ROOT / "app").glob("*/__init__.py"))
)
def test_every_folder_is_on_the_map(folder):
    assert folder in DEVELOPERS


def test_the_readme_needs_two_commands():
    assert "    sh seed/run\n" in README
    assert "    sh tests/run\n" in README
