"""What must hold whatever the numbers are: order, splitting, and which way the danger runs."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.calculate import calculate
from assessments.errors import Refused

METRES = st.floats(0.1, 50)  # changes a level by 54 dB at most
LEVELS = st.floats(60, 130)
HOURS = st.floats(0.01, 4)
TASKS = st.lists(st.tuples(LEVELS, HOURS), min_size=1, max_size=5)
TOOLS = st.lists(st.tuples(st.floats(0.5, 40), HOURS), min_size=1, max_size=5)
some_examples = settings(max_examples=60, deadline=None)


def value(method, output, **inputs):
    return calculate(method, inputs).outputs[output].value


DAYS = [("noise.daily", "tasks", "daily"), ("vibration.daily", "tools", "a8")]
each_day = pytest.mark.parametrize(("method", "rows", "output"), DAYS)


@each_day
@some_examples
@given(data=st.data())
def test_the_order_of_tasks_does_not_matter(method, rows, output, data):
    tasks = data.draw(TASKS if rows == "tasks" else TOOLS)
    shuffled = data.draw(st.permutations(tasks))
    there, back = value(method, output, **{rows: tasks}), value(method, output, **{rows: shuffled})
    assert there == pytest.approx(back, rel=1e-12)


@each_day
@some_examples
@given(data=st.data())
def test_splitting_a_task_changes_nothing(method, rows, output, data):
    (level, hours), *rest = data.draw(TASKS if rows == "tasks" else TOOLS)
    part = data.draw(st.floats(0.01, 0.99))
    split = [(level, hours * part), (level, hours * (1 - part)), *rest]
    whole = value(method, output, **{rows: [(level, hours), *rest]})
    assert value(method, output, **{rows: split}) == pytest.approx(whole, rel=1e-12)


@each_day
@some_examples
@given(data=st.data())
def test_more_time_or_more_of_it_never_means_less(method, rows, output, data):
    (level, hours), *rest = data.draw(TASKS if rows == "tasks" else TOOLS)
    now = value(method, output, **{rows: [(level, hours), *rest]})
    longer = value(method, output, **{rows: [(level, hours + 0.5), *rest]})
    worse = value(method, output, **{rows: [(level * 1.1, hours), *rest]})
    assert now <= longer + 1e-12
    assert now <= worse + 1e-12


@each_day
def test_a_task_of_no_time_changes_nothing(method, rows, output):
    alone = value(method, output, **{rows: [[85, 4]]})
    assert value(method, output, **{rows: [[85, 4], [99, 0]]}) == alone


@some_examples
@given(level=st.floats(60, 140), first=METRES, middle=METRES, last=METRES)
def test_distance_may_be_walked_in_two_steps(level, first, middle, last):
    def walk(level, start, end):
        given = {"level": level, "from": start, "to": end, "source": "point"}
        return value("noise.distance", "level", **given)

    there = walk(walk(level, first, middle), middle, last)
    assert there == pytest.approx(walk(level, first, last), abs=1e-9)


@some_examples
@given(level=st.floats(0, 150), count=st.integers(1, 20))
def test_equal_sources_add_ten_lg_of_their_number(level, count):
    found = value("noise.sum", "level", levels=[level] * count)
    assert found == pytest.approx(level + 10 * math.log10(count), abs=1e-9)


@some_examples
@given(magnitude=st.floats(1, 50))
def test_holding_a_tool_for_its_time_reaches_the_value(magnitude):
    times = calculate("vibration.time_to", {"magnitude": magnitude}).outputs
    for name, reached in (("to_action", 2.5), ("to_limit", 5.0)):
        if times[name].value <= 24:
            tools = [[magnitude, times[name].value]]
            assert value("vibration.daily", "a8", tools=tools) == pytest.approx(reached)


@some_examples
@given(diameter=st.floats(1, 3000), speed=st.floats(0.1, 200))
def test_speed_and_rotation_are_each_others_inverse(diameter, speed):
    rotation = value("wheel.speed", "rotation", diameter=diameter, speed=speed)
    if 1 <= rotation <= 100_000:
        back = value("wheel.speed", "speed", diameter=diameter, rotation=rotation)
        assert back == pytest.approx(speed, rel=1e-12)


LIFT = {
    "load": st.floats(1, 40),
    "horizontal": st.floats(25, 60),
    "vertical": st.floats(0, 175),
    "travel": st.floats(25, 175),
    "angle": st.floats(0, 130),
    "frequency": st.floats(0.2, 8),
}
WORDS = {
    "duration": st.sampled_from(["short", "moderate", "long"]),
    "coupling": st.sampled_from(["good", "fair", "poor"]),
}


@some_examples
@given(lift=st.fixed_dictionaries(LIFT | WORDS))
def test_no_lift_gets_lighter_by_a_worse_measure(lift):
    worse = [("horizontal", lift["horizontal"] + 3), ("angle", lift["angle"] + 5)]
    worse += [("frequency", lift["frequency"] + 1), ("load", lift["load"] + 1)]
    worse += [("duration", "long"), ("coupling", "poor")]
    now = value("lifting.niosh", "li", **lift)
    for name, changed in worse:
        try:
            assert value("lifting.niosh", "li", **(lift | {name: changed})) >= now - 1e-12
        except Refused as refused:
            assert "no load at all" in refused.sentence  # noqa: PT017 - worse than any number


TASK = st.tuples(*LIFT.values()).map(lambda cells: (*cells[:5], min(cells[5], 2), "fair"))


@some_examples
@given(tasks=st.lists(TASK, min_size=1, max_size=4), data=st.data())
def test_a_composite_index_is_never_below_its_heaviest_task(tasks, data):
    given = {"duration": "short"}
    shuffled = data.draw(st.permutations(tasks))
    outputs = calculate("lifting.composite", {"tasks": tasks, **given}).outputs
    assert outputs["cli"].value >= max(outputs["indices"].value) - 1e-12
    again = value("lifting.composite", "cli", tasks=shuffled, **given)
    assert again == pytest.approx(outputs["cli"].value, rel=1e-9)


@some_examples
@given(lift=st.fixed_dictionaries(LIFT | WORDS))
def test_one_task_has_the_same_index_alone_and_as_a_composite(lift):
    task = [lift[name] for name in (*LIFT, "coupling")]
    composite = value("lifting.composite", "cli", tasks=[task], duration=lift["duration"])
    assert composite == pytest.approx(value("lifting.niosh", "li", **lift))


@some_examples
@given(resolution=st.floats(1, 120), stop_time=st.floats(0.01, 2), more=st.floats(0.001, 1))
def test_a_guard_never_comes_closer_by_a_slower_stop(resolution, stop_time, more):
    given = {"resolution": resolution, "response_time": 0, "approach": "normal"}
    now = value("guard.distance", "separation", stop_time=stop_time, **given)
    assert value("guard.distance", "separation", stop_time=stop_time + more, **given) >= now


@some_examples
@given(opening=st.floats(0.2, 119), more=st.floats(0.01, 1))
def test_a_wider_opening_never_needs_less_distance(opening, more):
    for shape in ("slot", "square", "round"):
        given = {"shape": shape, "distance": 100}
        now = value("guard.opening", "needed", opening=opening, **given)
        assert value("guard.opening", "needed", opening=opening + more, **given) >= now
