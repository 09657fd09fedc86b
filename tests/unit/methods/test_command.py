"""The calc command as a person types it."""

import json
import math

import pytest

from assessments.command import run
from assessments.methods import catalogue


def test_the_list_names_every_method():
    code, out, err = run(["--list"])
    assert (code, err) == (0, "")
    assert [line.split()[0] for line in out.splitlines()] == list(catalogue())


def test_the_list_as_json_describes_every_method():
    code, out, _ = run(["--list", "--json"])
    assert code == 0
    assert [each["id"] for each in json.loads(out)] == list(catalogue())


def test_a_result_is_printed_with_band_working_sources_and_cautions():
    code, out, err = run(["noise.daily", "tasks=[[85,4],[90,1.5]]"])
    assert (code, err) == (0, "")
    for text in ("daily: 85.39 dB", "band: action", "Working", "Sources", "never replaces it"):
        assert text in out


def test_json_is_unrounded_and_has_the_published_keys():
    _, out, _ = run(["noise.daily", "tasks=[[85,4],[90,1.5]]", "--json"])
    plain = json.loads(out)
    exact = 10 * math.log10((4 * 10**8.5 + 1.5 * 10**9) / 8)
    assert plain["outputs"]["daily"] == {"value": pytest.approx(exact, rel=1e-14), "unit": "dB"}
    assert plain["inputs"]["tasks"]["value"] == [[85, 4], [90, 1.5]]
    assert plain["limit"]["value"] == 87


@pytest.mark.parametrize("where", [0, 1, 2])
def test_options_may_stand_anywhere(where):
    words = ["vibration.daily", "tools=[[3,1]]"]
    code, out, _ = run([*words[:where], "--limits", "eu", *words[where:], "--json"])
    assert code == 0
    assert json.loads(out)["limit"]["regime"] == "eu"


def test_the_limits_may_be_named_in_capitals():
    arguments = ["noise.daily", "tasks=[[85,4]]", "--json", "--limits"]
    assert run([*arguments, "EU"]) == run([*arguments, "eu"])
    assert run([*arguments, "EU"])[0] == 0


def test_the_limits_may_be_joined_by_an_equals_sign():
    assert run(["vibration.daily", "tools=[[3,1]]", "--limits=us"])[0] == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "Give a method"),
        (["noise.unknown"], "noise.daily"),
        (["nothing"], "is not a calculation method"),
        (["noise.daily"], "tasks is missing"),
        (["noise.daily", "tasks"], "name=value"),
        (["noise.daily", "=5"], "name=value"),
        (["noise.daily", "--verbose"], "name=value"),
        (["vibration.time_to", "magnitude=5", "magnitude=6"], "given twice"),
        (["vibration.time_to", "magnitude=0.1"], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "magnitude=101"], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "magnitude=5kg"], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "magnitude=nan"], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "magnitude=1e309"], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "magnitude=1,5"], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "magnitude=５"], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "magnitude=" + "9" * 10_000_000], "from 0.5 to 100 m/s2"),
        (["vibration.time_to", "speed=5"], "'speed' is not an input"),
        (["vibration.time_to", "magnitude=5", "--limits", "fr"], "one of gb, eu, us"),
        (["vibration.time_to", "magnitude=5", "--limits"], "one of gb, eu, us"),
        (["--list", "noise.daily"], "Give a method"),
        (["x" * 10_000_000], "is not a calculation method"),
        (["noise.daily", "a\nb=5"], "is not an input"),
    ],
)
def test_a_refusal_is_one_sentence_on_standard_error_and_code_2(arguments, words):
    code, out, err = run(arguments)
    assert (code, out) == (2, "")
    assert words in err
    assert err.endswith(".\n")
    assert err.count("\n") == 1
    assert len(err) < 2000


def test_help_shows_how_to_ask():
    code, out, _ = run(["--help"])
    assert code == 0
    assert "chuckkey calc METHOD name=value" in out
