"""Combustible dust: the cloud that a settled layer can make, and how much layer is too much."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from assessments.finding import Limit, Source
from assessments.limits import Limits
from assessments.method import (
    NO_PERMISSION,
    UNFAVOURABLE,
    Amount,
    Choice,
    Judge,
    Number,
    OneOf,
    Output,
    Result,
    method,
    require,
    step,
)

ECKHOFF = Source(
    title="Eckhoff, Dust Explosions in the Process Industries", place="chapter 1", confirmed=False
)
ECKHOFF_SPACING = Source(title="Eckhoff, Dust Explosions in the Process Industries", place="page 9")
OSHA_MEMO = Source(
    title="OSHA memorandum on the level of dust accumulation, citing NFPA 654 (2013)",
    edition="21 April 2015",
)
KURACINA_2023 = Source(title="Kuracina et al., Polymers 15:4203", edition="2023")
KURACINA_2021 = Source(title="Kuracina et al., Polymers 13:3014", edition="2021")
NFPA_68 = Source(title="NFPA 68", place="annex table of dusts", confirmed=False)
ST_CLASSES = Source(title="OSHA CPL 03-00-008", place="dust classes by Kst", confirmed=False)
DATA_SHEET = Source(title="Minimum explosible concentration as entered", place="data sheet")


@dataclass(frozen=True, kw_only=True)
class Dust:
    """What was measured on one sample.  MEC [g/m3], Pmax [bar], Kst [bar m/s]."""

    words: str
    minimum_explosible: float | None
    pmax: float
    kst: float
    source: Source


DUSTS = {
    "pa12": Dust(
        words="Polyamide 12 powder",
        minimum_explosible=30,
        pmax=6.76,
        kst=116.6,
        source=KURACINA_2023,
    ),
    "pa12_fine": Dust(
        words="Polyamide 12 powder, median 27.5 um",
        minimum_explosible=None,
        pmax=6.78,
        kst=112.2,
        source=KURACINA_2021,
    ),
    "uhmw_polyethylene": Dust(
        words="Polyethylene of ultra-high molar mass",
        minimum_explosible=60,
        pmax=6.47,
        kst=97.1,
        source=KURACINA_2023,
    ),
    "wood_flour": Dust(
        words="Wood flour, 29 um", minimum_explosible=None, pmax=10.5, kst=205, source=NFPA_68
    ),
    "wheat_flour": Dust(
        words="Wheat flour, 57 um", minimum_explosible=60, pmax=8.3, kst=87, source=NFPA_68
    ),
    "cornstarch": Dust(
        words="Cornstarch, 7 um", minimum_explosible=60, pmax=10.3, kst=202, source=NFPA_68
    ),
    "aluminium": Dust(
        words="Aluminium powder, 29 um", minimum_explosible=30, pmax=12.4, kst=415, source=NFPA_68
    ),
}

_DEPTH = Number("layer_depth", "mm", 0.001, 1000, meaning="Depth of the settled dust", example=1)
_BULK = "Mass of the loosely settled dust in its own volume, with the air in it"


def dust_class(kst: float) -> str:
    """Return the class of a dust by its Kst.  [bar m/s, 0 or more]"""
    return "St0" if kst <= 0 else "St1" if kst <= 200 else "St2" if kst <= 300 else "St3"


def _explosible(inputs: Mapping[str, Any], _limits: Limits) -> Limit | None:
    """Return the concentration from which a cloud burns: as entered, else that on record."""
    dust = DUSTS.get(inputs["dust"] or "")
    value, source = inputs["minimum_explosible"], DATA_SHEET
    if value is None and dust is not None:
        value, source = dust.minimum_explosible, dust.source
    if value is None:
        return None
    name = "Minimum explosible concentration"
    return Limit(name=name, value=value, action=value, unit="g/m3", source=source)


@method(
    id="dust.cloud",
    title="Dust cloud from a settled layer",
    answers="How dense is the cloud if the settled dust here is stirred up?",
    inputs=(
        _DEPTH,
        Number("bulk_density", "kg/m3", 1, 10_000, meaning=_BULK, example=500),
        Number(
            "cloud_height",
            "m",
            0.05,
            100,
            meaning="Height through which the dust is lifted",
            example=5,
        ),
        Number(
            "duct_diameter",
            "m",
            0.02,
            5,
            meaning="Diameter of a duct with the layer all round its wall",
            example=0.2,
        ),
        Number(
            "covered_fraction",
            "1",
            0.001,
            1,
            meaning="Share of the floor (or wall) that carries the layer",
            example=1,
            default=1,
        ),
        Number(
            "minimum_explosible",
            "g/m3",
            1,
            2000,
            label="Minimum explosible concentration",
            meaning="Minimum explosible concentration, from the data sheet of this very powder",
            example=30,
            optional=True,
        ),
        Choice(
            "dust",
            {key: dust.words for key, dust in DUSTS.items()},
            label="Kind of dust",
            meaning="A dust on record to compare with, where the data sheet has no value",
            example="pa12",
            optional=True,
        ),
        Number(
            "particle_density",
            "kg/m3",
            100,
            20_000,
            meaning="Density of the solid, for the distance between particles",
            example=1000,
            optional=True,
        ),
    ),
    outputs=(
        Output("concentration", "g/m3", meaning="Dust in the cloud, were all of it lifted evenly"),
        Output(
            "spacing",
            "1",
            optional=True,
            meaning="Distance between particles in the cloud, in particle diameters",
        ),
        Output("pmax", "bar", optional=True, meaning="Highest explosion pressure, on record"),
        Output("kst", "bar*m/s", optional=True, meaning="How violent it is, on record"),
        Output(
            "dust_class",
            optional=True,
            options=("St1", "St2", "St3"),
            meaning="Class of the dust on record, by Kst",
        ),
    ),
    equation="C = F rho_bulk h / H on a floor; C = 4 F rho_bulk h / D in a duct",
    sources=(
        ECKHOFF,
        ECKHOFF_SPACING,
        KURACINA_2023,
        KURACINA_2021,
        NFPA_68,
        ST_CLASSES,
    ),
    validity="A thin layer that is lifted whole and spread evenly. A real cloud is denser in "
    "places, so that a mean below the explosible concentration proves nothing.",
    cautions=(
        "An explosible cloud is never just a little hazy: above about 40 g/m3 a 25 W lamp cannot "
        "be seen through 2 m of it (Eckhoff, page 9). Nor is a cloud too dense to burn harmless, "
        "because it thins as it spreads and settles.",
        "A value on record is of one sample: grain, moisture and additives change it. Take the "
        "data sheet of the powder itself.",
        "Never clean with compressed air or an ordinary vacuum cleaner; deposits count as a "
        "source of a cloud when zones are drawn.",
        NO_PERMISSION,
    ),
    bands=UNFAVOURABLE,
    one_of=(OneOf((("cloud_height",), ("duct_diameter",))),),
    judge=Judge("concentration", by=_explosible),
)
def cloud(
    *,
    layer_depth: Amount,
    bulk_density: Amount,
    cloud_height: Any,
    duct_diameter: Any,
    covered_fraction: Amount,
    minimum_explosible: Any,
    dust: str | None,
    particle_density: Any,
) -> Result:
    """Return the concentration of a cloud from a settled layer.  [g/m3]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "layer_depth": 1, "bulk_density": 500, "cloud_height": 5, "covered_fraction": 1,
    ...     "minimum_explosible": 30, "dust": "pa12", "particle_density": 1000,
    ... }
    >>> calculate("dust.cloud", question).outputs["concentration"].value
    100.0
    """
    depth_m = layer_depth / 1000
    if cloud_height is not None:
        spread = cloud_height
        require(
            depth_m <= np.asarray(cloud_height),
            "layer_depth must not be more than the height through which it is lifted.",
            field="layer_depth",
        )
    else:
        spread = duct_diameter / 4
        require(
            2 * depth_m <= np.asarray(duct_diameter),
            "layer_depth must not be more than half the diameter of the duct.",
            field="layer_depth",
        )
    concentration = 1000 * covered_fraction * bulk_density * depth_m / spread
    outputs: dict[str, Any] = {"concentration": concentration}
    steps = [
        step(
            "{:g} of the surface, {:g} kg/m3, {:g} m deep, spread through {:.4g} m: {:.4g} g/m3",
            covered_fraction,
            bulk_density,
            depth_m,
            spread,
            concentration,
        )
    ]
    if particle_density is not None:
        outputs["spacing"] = np.cbrt(1000 * particle_density / concentration)
    known = DUSTS.get(dust or "")
    if known is not None:
        outputs |= {"pmax": known.pmax, "kst": known.kst, "dust_class": dust_class(known.kst)}
    return Result(outputs, steps=steps)


# 1/32 in of a dust of 75 lb/ft3, as the memorandum puts it in metric units.
BASE_DEPTH_MM = 0.8
BASE_DENSITY = 1200.0
HEAVIEST = 1202.0  # kg/m3; 75 lb/ft3 exactly are 1201.4
TOLERATED_FOOTPRINT = 0.05
LARGEST_PATCH_M2 = 1000 * 0.3048**2  # 1000 ft2

DEEMED, NOT_MET = "dust hazard deemed to exist", "criterion not met"


def critical_depth(bulk_density: Amount) -> Amount:
    """Return the depth above which a layer counts as an accumulation.  [mm]

    ``bulk_density`` [kg/m3], up to 1202.

    >>> critical_depth(200)
    4.8
    """
    return BASE_DEPTH_MM * BASE_DENSITY / bulk_density


def _criterion(_inputs: Mapping[str, Any], _limits: Limits) -> Limit:
    name = "Layer-depth criterion, any of its four parts"
    return Limit(name=name, value=1, unit="1", source=OSHA_MEMO, regime="us")


@method(
    id="dust.layer",
    title="Settled dust by depth and area",
    answers="Is there so much settled dust that an explosion or flash fire must be expected?",
    inputs=(
        _DEPTH,
        Number("bulk_density", "kg/m3", 1, HEAVIEST, meaning=_BULK, example=200),
        Number("floor_area", "m2", 1, 1e6, meaning="Footprint of the room or building", example=60),
        Number(
            "covered_area",
            "m2",
            0,
            1e5,
            meaning="Area with such a layer, on floor, beams, ledges, ducts and machines together",
            example=2,
        ),
        Number(
            "largest_patch",
            "m2",
            0,
            1e5,
            meaning="Largest single area of it; where it is not known, the whole covered area",
            example=1.5,
            optional=True,
        ),
    ),
    outputs=(
        Output("critical_depth", "mm", meaning="Depth above which a layer counts"),
        Output("covered_fraction", "1", meaning="Covered area over footprint"),
        Output("verdict", options=(NOT_MET, DEEMED), meaning="By the four parts together"),
        Output("index", "1", meaning="The worst of the four parts; above 1 a hazard is deemed"),
    ),
    equation="LD = 0.8 mm x 1200 kg/m3 / rho_bulk; deemed a hazard where the area deeper than LD "
    "is over 5 % of the footprint or over 1000 ft2 in one place, or the volume is over LD x 5 % "
    "of the footprint or over LD x 1000 ft2 in one place",
    sources=(OSHA_MEMO,),
    validity="Dusts up to 75 lb/ft3, each area by its own depth: ask again for the deepest. A "
    "criterion of the United States; elsewhere the rule is to keep surfaces clean.",
    cautions=(
        "A layer under the criterion may still make an explosible cloud: ask dust.cloud too.",
        "The metric form of the depth is common practice; the memorandum prints 1/32 in and "
        "75 lb/ft3.",
        NO_PERMISSION,
    ),
    bands=UNFAVOURABLE,
    judge=Judge("index", by=_criterion),
)
def layer(
    *,
    layer_depth: Amount,
    bulk_density: Amount,
    floor_area: Amount,
    covered_area: Amount,
    largest_patch: Any,
) -> Result:
    """Return whether settled dust counts as a hazard by the layer-depth criterion.

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "layer_depth": 1, "bulk_density": 200, "floor_area": 60, "covered_area": 2,
    ...     "largest_patch": 1.5,
    ... }
    >>> calculate("dust.layer", question).outputs["index"].value
    0.1389
    """
    patch = covered_area if largest_patch is None else largest_patch
    require(
        np.asarray(patch) <= covered_area,
        "largest_patch must not be more than covered_area, in m2.",
        field="largest_patch",
    )
    depth = critical_depth(bulk_density)
    fraction = covered_area / floor_area
    by_footprint, by_patch = fraction / TOLERATED_FOOTPRINT, patch / LARGEST_PATCH_M2
    counts = layer_depth > np.asarray(depth)
    parts = {
        "Area over 5 % of the footprint": np.where(counts, by_footprint, 0.0),
        "One area over 1000 ft2": np.where(counts, by_patch, 0.0),
        "Volume over LD x 5 % of the footprint": layer_depth / depth * by_footprint,
        "One volume over LD x 1000 ft2": layer_depth / depth * by_patch,
    }
    index = np.max(np.broadcast_arrays(*parts.values()), axis=0)
    unknown = "The largest single area was not given: the whole covered area is taken for it."
    return Result(
        {
            "critical_depth": depth,
            "covered_fraction": fraction,
            "verdict": np.where(index > 1, DEEMED, NOT_MET),
            "index": index,
        },
        steps=[
            step("Critical depth {:.4g} mm for {:g} kg/m3", depth, bulk_density),
            *(step(f"{words}: {{:.3g}} of the bound", part) for words, part in parts.items()),
        ],
        assumptions=[unknown] if largest_patch is None else [],
    )
