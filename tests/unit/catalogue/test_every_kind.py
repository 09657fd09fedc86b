"""What holds for every file of the catalogue, now and later."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments import catalogue
from assessments.calculate import calculate
from assessments.catalogue import kind, kinds
from assessments.catalogue.kind import Lone, RunMode
from assessments.catalogue.reading import read_file, read_kind
from assessments.catalogue.texts import texts
from assessments.catalogue.writing import write_kind
from assessments.errors import Refused
from assessments.hierarchy import Level
from tests.unit.catalogue.names import ASKED_FOR
from tests.unit.catalogue.sample import SAMPLE, changed

FOLDER = files(catalogue) / "kinds"
ALL = sorted(each.name for each in FOLDER.iterdir())
PROPOSED = [
    pytest.param(each, id=f"{found.key}-{hazard.key}-{each.id}")
    for found in kinds().values()
    for hazard in found.hazards
    for each in hazard.methods
    if not each.ask
]


def test_every_kind_that_was_asked_for_is_there():
    assert len(ASKED_FOR) >= 31
    assert ASKED_FOR - kinds().keys() == set()


@pytest.mark.parametrize("name", ALL)
def test_the_file_reads_without_a_sentence_against_it(name):
    assert read_file(str(FOLDER / name)) == kind(name.removesuffix(".toml"))


@pytest.mark.parametrize("key", kinds())
def test_what_is_written_is_read_back_equal(key):
    assert read_kind(write_kind(kind(key)), name=key) == kind(key)


@pytest.mark.parametrize("proposed", PROPOSED)
def test_the_starting_inputs_give_a_number(proposed):
    finding = calculate(proposed.id, proposed.inputs)
    assert finding.outputs
    assert finding.working


@pytest.mark.parametrize("key", kinds())
def test_a_kind_is_neither_thin_nor_endless(key):
    found = kind(key)
    assert 5 <= len(found.hazards) <= 9
    assert 6 <= len(found.controls) <= 14
    assert 1 <= sum(len(each.methods) for each in found.hazards) <= 8
    assert 100 <= len(found.induction.content.split()) <= 250
    assert any(each.level < Level.ADMINISTRATIVE for each in found.controls)


@pytest.mark.parametrize("key", kinds())
def test_the_controls_of_every_hazard_lower_its_rating(key):
    for each in kind(key).hazards:
        rarest = each.likelihood == 1  # nothing can make it rarer on this scale
        lowered = (each.severity_after, each.likelihood_after) != (each.severity, each.likelihood)
        assert lowered or rarest, each.key


@pytest.mark.parametrize("key", kinds())
def test_what_only_technicians_run_is_not_open_without_staff(key):
    use = kind(key).use
    assert not (use.unstaffed and use.run_mode is not RunMode.OPEN)
    assert not (use.lone is Lone.NEVER and use.companions == 0)


@pytest.mark.parametrize("key", kinds())
def test_no_text_names_a_place_on_the_network_or_on_a_machine(key):
    for where, text in texts(kind(key)):
        assert not re.search(r"https?:|www\.|/home|/tmp", text), where


def test_an_unknown_kind_is_refused():
    with pytest.raises(Refused, match="no kind 'time-machine'"):
        kind("time-machine")


printable = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=60)


# Quotation marks, backslashes, brackets and letters of any script survive the file.
@settings(max_examples=60)
@given(name=printable, content=printable, title=printable)
def test_any_printable_words_survive_writing_and_reading(name, content, title):
    words = [each if each.strip() and each.isprintable() else "x" for each in (name, content)]
    words = ["x" if "safe" in each.lower() else each for each in words]

    def change(tables):
        tables["name"] = words[0]
        tables["induction"]["content"] = f"{words[1]}\n\n'''\"\"\"\n{words[1]}"

    read = read_kind(changed(change), name="foam-rasp.toml")
    assert read.name == words[0]
    assert read_kind(write_kind(read), name="foam-rasp.toml") == read


def test_a_written_file_is_as_short_as_one_by_hand():
    written = write_kind(read_kind(tomli_w.dumps(SAMPLE), name="foam-rasp.toml"))
    assert "reason" in written
    assert written.count("reason") == 1  # an empty one is left out
    assert "minimum_age" not in written
