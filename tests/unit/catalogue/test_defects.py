"""Each way in which a file can be wrong gives its sentence, naming the file and the place."""

from __future__ import annotations

import time

import pytest

from assessments.catalogue.reading import LARGEST, MOST_SENTENCES, Defective, read_file
from tests.unit.catalogue.sample import changed, sentences


def test_the_sample_itself_is_in_order():
    assert sentences(changed(lambda kind: None)) == ()


def put(*path, value):
    """Return a change that puts a value at a place in the tables."""

    def change(kind):
        for step in path[:-1]:
            kind = kind[step]
        kind[path[-1]] = value

    return change


def drop(*path):
    """Return a change that takes a place out of the tables."""

    def change(kind):
        for step in path[:-1]:
            kind = kind[step]
        del kind[path[-1]]

    return change


HAZARD, METHOD = ("hazard", 0), ("hazard", 0, "method", 0)
CONTROL, CHECK, STATUTORY = (
    ("control", 0),
    ("control", 0, "check", 0),
    ("control", 0, "check", 1),
)

SHAPES = [
    (put("colour", value="red"), "colour is not known here"),
    (put(*HAZARD, "colour", value="red"), "hazard 1 (drum): colour is not known here"),
    (put(*CHECK, "often", value=1), "control 1 (hood): check 1: often is not known here"),
    (drop("summary"), "summary is missing"),
    (drop(*HAZARD, "how"), "hazard 1 (drum): how is missing"),
    (put("schema", value=2), "schema must be a whole number from 1 to 1"),
    (put("key", value="Foam Rasp"), "key must be lower-case letters"),
    (put("name", value=7), "name must be a text in quotation marks"),
    (put("name", value=" "), "name is empty"),
    (put("name", value="x" * 121), "name may hold at most 120 characters and holds 121"),
    (put("name", value="Foam\u202erasp"), "name holds a character that cannot be printed"),
    (put("summary", value="two\nlines"), "summary holds a character that cannot be printed"),
    (put("group", value="Ice"), "group must be one of Light, Print"),
    (put("use", value="always"), "use must be a table"),
    (put("use", "unstaffed", value="no"), "use: unstaffed must be true or false"),
    (put("use", "companions", value=True), "use: companions must be a whole number"),
    (put(*HAZARD, "severity", value=6), "severity must be a whole number from 1 to 5"),
    (put(*HAZARD, "likelihood", value=0), "likelihood must be a whole number from 1 to 5"),
    (put(*HAZARD, "likelihood", value=1.5), "likelihood must be a whole number from 1 to 5"),
    (put(*HAZARD, "states", value=["storm"]), "states 1 must be one of jam, cleaning"),
    (put(*HAZARD, "who", value="all"), "who must be a list"),
    (put(*HAZARD, "who", value=["a"] * 41), "who may hold at most 40 entries"),
    (put(*METHOD, "inputs", value=["8"]), "inputs must be a table of at most 40 texts"),
    (put(*METHOD, "inputs", "opening", value=8), "inputs: opening must be a text"),
    (put(*CONTROL, "level", value="guard"), "level must be one of elimination, substitution"),
    (put(*CHECK, "unit", value="year"), "unit must be one of use, day, week, month"),
    (put(*STATUTORY, "low", value="1,5"), "low must be a plain number such as 0.5"),
]

RULES = [
    (drop("control", 1), "hazard dust: no control answers it"),
    (
        put(*CONTROL, "answers", value=["drum", "noise"]),
        "control hood: answers: there is no hazard",
    ),
    (put("control", 1, "answers", value=[]), "control mask: answers: at least one hazard"),
    (put(*CONTROL, "check", value=[]), "an engineering control needs at least one"),
    (put("hazard", 1, "reason", value=""), "hazard dust: reason: its controls are all admin"),
    (put(*CONTROL, "level", value="administrative"), "hazard drum: reason: its controls are all"),
    (put(*HAZARD, "severity_after", value=5), "severity_after is 5, higher than 4 before"),
    (put(*HAZARD, "likelihood_after", value=4), "likelihood_after is 4, higher than 3 before"),
    (put("signs", value=["M004", "W999"]), "signs: W999 is not among the safety signs"),
    (put("signs", value=["M004", "M004"]), "sign M004 is given more than once"),
    (put(*HAZARD, "sign", value="X1"), "hazard drum: sign: X1 is not among"),
    (put("hazard", 1, "key", value="drum"), "hazard drum is given more than once"),
    (drop("never", 0), "never: at least 2 materials are needed for a machine"),
    (drop("abnormal", 0), "abnormal: at least 3 different states are needed"),
    (put("abnormal", 1, "state", value="jam"), "abnormal: state jam is given more than once"),
    (drop("induction", "item", 0), "induction: item: from 5 to 8 are needed"),
    (put("before_use", value=[]), "before_use: at least one line is needed"),
    (put("use", "companions", value=0), "companions must be at least 1"),
    (put("use", "lone", value="allowed"), "companions must be 0 where lone is allowed"),
    (put("use", "minimum_age", value=16), "age_source is missing"),
    (put("use", "disuse_months", value=12), "disuse_source is missing"),
    (put(*HAZARD, "source", value="a friend"), "hazard drum: source: 'a friend' is neither"),
    (put(*STATUTORY, "source", value="common practice"), "a statutory interval needs the law"),
    (put(*CHECK, "unit", value="use"), ""),
    (put(*STATUTORY, "unit", value="use"), "every must be 1 where the unit is use"),
    (drop(*STATUTORY, "measure"), "measure is missing beside low or high"),
    (put(*STATUTORY, "low", value="9"), "low is 9, above high, which is 8"),
    (put("summary", value="Entirely safe."), "summary: the word 'safe' promises"),
    (put("summary", value="Entirely unsafe."), ""),
    (put(*METHOD, "id", value="guard.magic"), "method guard.magic: there is no such"),
    (put(*METHOD, "ask", value=["colour"]), "ask: 'colour' is not an input"),
    (put(*METHOD, "ask", value=["distance", "opening"]), "opening is also given in inputs"),
    (put(*METHOD, "ask", value=[]), "inputs: distance is missing"),
    (put(*METHOD, "inputs", "opening", value="-3"), "inputs: opening must be a number from"),
    (put(*METHOD, "inputs", "colour", value="red"), "inputs: 'colour' is not an input"),
]


@pytest.mark.parametrize(
    ("change", "expected"),
    SHAPES + RULES,
    ids=lambda each: each[:40] if isinstance(each, str) else "change",
)
def test_one_defect_gives_one_sentence_with_file_and_place(change, expected):
    found = sentences(changed(change))
    if not expected:
        assert found == ()
        return
    assert any(expected in each for each in found), found
    assert all(each.startswith("foam-rasp.toml: ") and each.endswith(".") for each in found)


def test_all_defects_are_told_at_once():
    def change(kind):
        kind["signs"] = ["W999"]
        kind["hazard"][0]["severity_after"] = 5
        kind["hazard"][0]["method"][0]["id"] = "guard.magic"

    assert len(sentences(changed(change))) == 3


def test_a_flood_of_defects_is_cut_and_counted():
    def change(kind):
        kind.update({f"colour{each}": 1 for each in range(200)})

    found = sentences(changed(change))
    assert len(found) == MOST_SENTENCES + 1
    assert found[-1].endswith("There are 140 more.")


@pytest.mark.parametrize(
    "text",
    [
        "not a file of ours",
        "a = " + "[" * 50_000,
        "a = " + "9" * 5_000,
        'a = "\\ud800"',
        "a = 1\na = 2",
        "x = {" + ".".join("a" * 100_000) + " = 1}",
        "\n".join(".".join("a" * 390) + f".b{each} = 1" for each in range(300)),
        "#" * (LARGEST + 1),
        "# " + "\u00e9" * (LARGEST // 2),
        "\n".join(["[[hazard]]"] * 20_000),
    ],
    ids=lambda text: text[:12],
)
def test_a_hostile_text_is_refused_within_seconds(text):
    begun = time.monotonic()
    assert sentences(text)
    assert time.monotonic() - begun < 5  # without the limits: many minutes, or a crash


def test_a_file_under_another_name_than_its_key_is_refused(tmp_path):
    file = tmp_path / "rasp.toml"
    file.write_text(changed(lambda kind: None), "utf-8")
    with pytest.raises(Defective, match="the file must be foam-rasp"):
        read_file(str(file))
