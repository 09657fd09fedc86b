"""A saw in a bay, who holds what it asks, and a technician who is cleared on it: as fixtures."""

from __future__ import annotations

import pytest

from app.people.rights import Role
from app.training.standing import Result


@pytest.fixture
def bay(shop):
    return shop.area("Wood bay")


@pytest.fixture
def saw(shop, bay):
    return shop.machine("Panel saw", area=bay)


@pytest.fixture
def drill(shop, bay):
    return shop.machine("Drill", area=bay)


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def revision(shop, saw, basics):
    return shop.assess(saw, inductions=[basics])


@pytest.fixture
def hold(shop, basics, revision):
    """Give somebody a standing in what the saw asks, and their own word."""

    def give(result=Result.ALONE, **person):
        somebody = shop.person(**person)
        shop.hold(somebody, basics, result)
        shop.acknowledge(somebody, revision)
        return somebody

    return give


@pytest.fixture
def ada(hold):
    return hold()


@pytest.fixture
def tess(hold):
    """A technician who is cleared on the saw."""
    return hold(name="Tess Turner", roles=[Role.TECHNICIAN])
