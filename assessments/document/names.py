"""The words under which a document prints an input or output of a method.

A key is a name for programs; most of them read as words once their underscores are blanks. Those
here do not, and stand under the words, or the abbreviation, by which their standard calls them. A
new output whose key is no word gets its words here.
"""

from __future__ import annotations

NAMES = {
    "a8": "A(8)",
    "ael": "accessible emission limit (AEL)",
    "averaged": "hazard distance, the beam averaged over the aperture",
    "at_ear": "level at the ear",
    "cli": "composite lifting index",
    "gsd": "geometric standard deviation",
    "kst": "KSt",
    "lceq": "C-weighted level",
    "lel": "lower explosive limit",
    "li": "lifting index",
    "mpe_exposure": "maximum permissible exposure (MPE)",
    "mpe_irradiance": "maximum permissible exposure (MPE)",
    "nohd": "hazard distance (NOHD)",
    "rwl": "recommended weight limit",
    "snr": "SNR",
    "time_to_90": "time to 90 % of it",
    "twa": "average (TWA)",
    "twa_15min": "15-minute average",
    "twa_8h": "8-hour average",
    "uel": "upper explosive limit",
    "ventilation_10": "flow for 10 % of the lower explosive limit",
    "ventilation_25": "flow for 25 % of the lower explosive limit",
}


def label(key: str) -> str:
    """Return the name of an input or output as words.

    >>> label("twa_8h"), label("covered_fraction")
    ('8-hour average', 'covered fraction')
    """
    return NAMES.get(key, key.replace("_", " "))
