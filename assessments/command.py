"""The ``calc`` command, as a pure function from arguments to exit code and text."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from assessments.calculate import calculate, to_json
from assessments.describe import describe
from assessments.errors import Refused
from assessments.finding import Finding
from assessments.limits import SITE, Limits
from assessments.methods import catalogue
from assessments.units import worded

USAGE = """\
usage: chuckkey calc --list [--json]
       chuckkey calc METHOD name=value ... [--limits gb|eu|us|site] [--data FOLDER] [--json]

A value may carry a unit (power=40W, duration=15min), be uncertain (normal(40,4)), or be a
JSON list of rows (tasks='[[85,4],[90,1.5]]'). Limits are those of gb unless another list is
named; with a site's data folder they are the site's own and those of the regime it chose.
"""


def run(arguments: Sequence[str], *, site: Limits | None = None) -> tuple[int, str, str]:
    """Return exit code, standard output and standard error; 2 means refused, with no number.

    ``site`` is the regime that a site chose, with its own limits; they are then the default.
    """
    try:
        return 0, _answer(list(arguments), site), ""
    except Refused as refused:
        return 2, "", f"{refused.sentence}\n"


def _answer(arguments: list[str], site: Limits | None) -> str:
    if arguments in (["--help"], ["-h"]):
        return USAGE
    arguments, as_json = _without_flag(arguments, "--json")
    arguments, as_list = _without_flag(arguments, "--list")
    arguments, choice = _without_option(arguments, "--limits", SITE if site else "gb")
    if as_list and not arguments:
        return _list(as_json=as_json)
    if not arguments or as_list:
        raise Refused("Give a method and its inputs as name=value, or --list to see them all.")
    method_id, *pairs = arguments
    limits = _limits(choice, site)
    given = _pairs(method_id, pairs)
    finding = calculate(method_id, given, regime=limits.regime, site_limits=limits.site)
    return _json(to_json(finding)) if as_json else page(finding)


def _limits(choice: str, site: Limits | None) -> Limits:
    if choice != SITE:
        return Limits(choice.lower())
    if site is None:
        raise Refused("limits=site needs the site: give its data folder with --data.")
    return site


def _without_flag(arguments: list[str], flag: str) -> tuple[list[str], bool]:
    return [each for each in arguments if each != flag], flag in arguments


def _without_option(arguments: list[str], name: str, default: str) -> tuple[list[str], str]:
    kept, value = [], default
    rest = iter(arguments)
    for each in rest:
        if each == name:
            value = next(rest, "")
        elif each.startswith(f"{name}="):
            value = each.partition("=")[2]
        else:
            kept.append(each)
    return kept, value


def _pairs(method_id: str, arguments: list[str]) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for argument in arguments:
        name, equals, value = argument.partition("=")
        if not equals or not name:
            raise Refused(f"{argument[:40]!r} must be written as name=value, for {method_id}.")
        if name in pairs:
            raise Refused(f"{name[:40]} is given twice; give it once.", field=name)
        pairs[name] = value
    return pairs


def _list(*, as_json: bool) -> str:
    methods = catalogue().values()
    if as_json:
        return _json([describe(method) for method in methods])
    width = max(len(method.id) for method in methods)
    return "".join(f"{method.id:<{width}}  {method.title}\n" for method in methods)


def _json(data: Any) -> str:
    return json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def page(finding: Finding) -> str:
    """Return a finding as plain lines; only here are numbers rounded, to four figures."""
    spread = finding.uncertainty.get("outputs", {})
    lines = [f"{finding.title} ({finding.method}, edition {finding.edition})", "", "Given"]
    lines += [f"  {name}: {worded(_shown(q.value), q.unit)}" for name, q in finding.inputs.items()]
    lines += ["", "Result"]
    for name, quantity in finding.outputs.items():
        range_ = _range(spread.get(name, {}))
        lines.append(f"  {name}: {worded(_shown(quantity.value), quantity.unit)}{range_}")
    lines += [f"  band: {finding.band}"]
    for title, texts in (
        ("Working", finding.working),
        ("Assumed", finding.assumptions),
        ("Sources", tuple(str(source) for source in finding.sources)),
        ("Cautions", finding.cautions),
    ):
        lines += ["", title, *(f"  {text}" for text in texts)] if texts else []
    return "".join(f"{line.rstrip()}\n" for line in lines)


def _range(spread: dict[str, Any]) -> str:
    if "p05" not in spread:
        return ""
    return f" (5th percentile {_shown(spread['p05'])}, 95th {_shown(spread['p95'])})"


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "[" + ", ".join(_shown(each) for each in value) + "]"
    if isinstance(value, float):
        return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"
    return str(value)
