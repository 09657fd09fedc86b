"""Ratings: the arithmetic of the matrix, Cox's axioms, and the risk graph of ISO 13849-1."""

from itertools import pairwise, product

import pytest

from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.rating import check_colours

COLOURS = ("green", "amber", "red")


def check(*lows):
    bands = [[low, colour] for low, colour in zip(lows, COLOURS, strict=True)]
    outputs = calculate("rating.scale_check", {"size": 5, "bands": bands}).outputs
    return tuple(quantity.value for quantity in outputs.values())


# Cox, Risk Analysis 28 (2), 2008, pages 497 to 512: his axioms on common product bands of a
# five by five matrix (verdicts worked out by hand from the cells).
@pytest.mark.parametrize(
    ("lows", "verdicts"),
    [
        ((1, 8, 15), (True, True, True)),
        ((1, 6, 15), (True, True, True)),
        ((1, 5, 15), (True, True, False)),  # cells (1, 5) and (5, 1) are amber
        ((1, 4, 10), (True, True, False)),  # (1, 4) amber, (2, 5) red
    ],
)
def test_the_axioms_on_common_bands(lows, verdicts):
    assert check(*lows) == verdicts


def colourings(size):
    """Yield every colouring of a square matrix that never falls to the right or upwards."""
    cells = [(i, j) for i in range(1, size + 1) for j in range(1, size + 1)]
    rows = [row for row in product(range(3), repeat=size) if all(a <= b for a, b in pairwise(row))]
    stacks = [[row] for row in rows]
    for _ in range(size - 1):
        stacks = [
            [*stack, row]
            for stack in stacks
            for row in rows
            if all(a <= b for a, b in zip(stack[-1], row, strict=True))
        ]
    for stack in stacks:
        yield {(i, j): COLOURS[stack[j - 1][i - 1]] for i, j in cells}


def is_proper(colours):
    uses_all = set(colours.values()) == set(COLOURS)
    return uses_all and all(check_colours(colours).values())


@pytest.mark.parametrize(("size", "count"), [(2, 0), (3, 1), (4, 19)])
def test_the_smallest_matrix_that_keeps_all_axioms_is_three_by_three(size, count):
    # Cox's theorem: at least three colours, at least three by three, and there only one way.
    assert sum(is_proper(colours) for colours in colourings(size)) == count


def test_the_only_proper_three_by_three_matrix_is_the_one_of_the_paper():
    proper = next(colours for colours in colourings(3) if is_proper(colours))
    rows = [[proper[(i, j)][0] for i in (1, 2, 3)] for j in (3, 2, 1)]
    assert rows == [["g", "a", "r"], ["g", "a", "a"], ["g", "g", "g"]]


def test_a_matrix_that_ranks_a_larger_risk_below_a_smaller_one_is_found():
    # With green up to 9 and red from 10 the cell (3, 3) reaches 9 while red (2, 5) begins at 4.
    weak, between, _ = check(1, 10, 10)
    assert not weak
    assert not between


def test_a_five_by_five_product_takes_fourteen_values():
    # Arithmetic: 7 and 11, for example, are never reached.
    scores = {
        calculate("rating.matrix", {"severity": s, "likelihood": p}).outputs["score"].value
        for s in range(1, 6)
        for p in range(1, 6)
    }
    assert scores == {1, 2, 3, 4, 5, 6, 8, 9, 10, 12, 15, 16, 20, 25}


def test_score_never_falls_as_severity_or_likelihood_rise():
    for s, p in product(range(1, 5), repeat=2):
        here, worse, likelier = (
            calculate("rating.matrix", {"severity": a, "likelihood": b}).outputs["score"].value
            for a, b in ((s, p), (s + 1, p), (s, p + 1))
        )
        assert here < worse
        assert here < likelier


def test_a_site_rates_on_its_own_scale():
    scale = [[1, "tolerable"], [6, "reduce"]]
    given = {"severity": 3, "likelihood": 2, "size": 3, "scale": scale}
    assert calculate("rating.matrix", given).outputs["band"].value == "reduce"
    with pytest.raises(Refused, match="from 1 to 3"):
        calculate("rating.matrix", given | {"severity": 4})


# ISO 13849-1, annex A, risk graph (from memory).
GRAPH = {
    ("S1", "F1", "P1"): "a",
    ("S1", "F1", "P2"): "b",
    ("S1", "F2", "P1"): "b",
    ("S1", "F2", "P2"): "c",
    ("S2", "F1", "P1"): "c",
    ("S2", "F1", "P2"): "d",
    ("S2", "F2", "P1"): "d",
    ("S2", "F2", "P2"): "e",
}


@pytest.mark.parametrize(("answers", "level"), GRAPH.items())
def test_a_path_of_the_risk_graph(answers, level):
    given = dict(zip(("severity", "frequency", "avoidance"), answers, strict=True))
    assert calculate("rating.performance_level", given).outputs["level"].value == level
