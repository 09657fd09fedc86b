"""Part 2: the areas, and what stands where in them."""

from __future__ import annotations

from app.pack.ground import Ground
from assessments.document.pack import Part, Room, Rooms, Words


def part(ground: Ground) -> Part:
    """Return the areas as boxes with their machines by place."""
    return Part(
        number=2,
        key="plan",
        title="Areas and what stands in them",
        lead="Each box is an area of the register, each group a place in it. It is no drawing to "
        "scale: the register holds no floor plan.",
        blocks=(
            Rooms(title="", rooms=tuple(_room(ground, area_id) for area_id in ground.areas)),
            Words(title="", paragraphs=_closed(ground), listed=True, otherwise=""),
        )
        if _closed(ground)
        else (Rooms(title="", rooms=tuple(_room(ground, area_id) for area_id in ground.areas)),),
    )


def _room(ground: Ground, area_id: int) -> Room:
    area = ground.areas[area_id]
    places: dict[str, list[str]] = {}
    for file in ground.in_area(area_id):
        places.setdefault(file.row.place, []).append(file.facts.name)
    return Room(
        name=area.name,
        place=area.place,
        places=tuple((place, tuple(names)) for place, names in sorted(places.items())),
    )


def _closed(ground: Ground) -> tuple[str, ...]:
    shut = {file.facts.area_id for file in ground.files.values() if file.facts.area_closed}
    return tuple(f"{ground.areas[each].name} was closed." for each in shut)
