"""The methods as JSON: a question in, the finding out, and every error in one shape."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from flask import Blueprint, Response, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from app.calculations.limits import limits_asked, limits_of_the_site
from app.errors import BadInput, NotFound
from app.errors import Refused as RuleRefused
from app.parts import reading
from app.people.access import SIGNED_IN, access
from assessments.calculate import calculate, to_json
from assessments.describe import describe
from assessments.errors import Refused
from assessments.finding import Finding
from assessments.limits import SITE
from assessments.methods import catalogue

bp = Blueprint("api", __name__, url_prefix="/api/calculations")


@bp.get("")
@access(SIGNED_IN)
def index() -> Response:
    """Describe every method."""
    return _json([describe(method) for method in catalogue().values()])


@bp.post("/<method_id>")
@access(SIGNED_IN)
def calculation(method_id: str) -> Response:
    """Calculate: the body is ``{name: value}``, with ``"limits"`` where not the site's hold.

    The inputs may also stand under ``"inputs"``, as they do in the answer.
    """
    if method_id not in catalogue():
        raise NotFound(f"{method_id[:40]!r} is not a calculation method.")
    body = _body()
    limits = limits_asked(str(body.pop("limits", SITE)), limits_of_the_site(reading()))
    nested = body.get("inputs")
    inputs = nested if isinstance(nested, dict) and len(body) == 1 else body
    finding = calculate(
        method_id, _unwrapped(inputs), regime=limits.regime, site_limits=limits.site
    )
    _insist_on_units(inputs, finding)
    return _json(to_json(finding))


def _body() -> dict[str, Any]:
    if not request.is_json:
        raise BadInput("Send the inputs as application/json.", status=415)
    try:
        body = json.loads(
            request.get_data(), object_pairs_hook=_once, parse_constant=_not_a_constant
        )
    except (ValueError, RecursionError):
        raise BadInput("The body is not JSON that can be read.") from None
    if not isinstance(body, dict):
        raise BadInput('The body must be one JSON object, such as {"power": 40}.')
    return body


def _once(named: list[tuple[str, Any]]) -> dict[str, Any]:
    tree = dict(named)
    if len(tree) != len(named):
        raise ValueError("a name stands twice")
    return tree


def _not_a_constant(name: str) -> Any:
    raise ValueError(f"{name} is no number")


def _is_wrapped_list(value: Any) -> bool:
    return isinstance(value, dict) and isinstance(value.get("value"), list)


def _unwrapped(inputs: Mapping[str, Any]) -> dict[str, Any]:
    """Take lists out of ``{"value", "unit"}``; a single number is read with its unit anyway."""
    return {n: value["value"] if _is_wrapped_list(value) else value for n, value in inputs.items()}


def _insist_on_units(inputs: Mapping[str, Any], finding: Finding) -> None:
    for name, value in inputs.items():
        unit = finding.inputs[name].unit if name in finding.inputs else ""
        if _is_wrapped_list(value) and value.get("unit", unit) != unit:
            raise Refused(f"{name} must be given in {unit}.", field=name)


def _json(data: Any, status: int = 200) -> Response:
    text = json.dumps(data, ensure_ascii=False, allow_nan=False)
    return Response(f"{text}\n", status, mimetype="application/json")


def _error_json(code: str, sentence: str, status: int, field: str | None = None) -> Response:
    fields = {field: sentence} if field else {}
    error = {"code": code, "message": sentence, "fields": fields}
    return _json({"error": error}, status)


@bp.errorhandler(Refused)
def _refused(refused: Refused) -> Response:
    return _error_json("refused", refused.sentence, 422, refused.field)


@bp.errorhandler(RuleRefused)
def _rule_refused(refused: RuleRefused) -> Response:
    return _error_json(refused.code, refused.sentence, refused.status)


@bp.errorhandler(CSRFError)
def _csrf(_error: CSRFError) -> Response:
    sentence = "Send the token of your session as X-CSRFToken. Nothing was calculated."
    return _error_json("token-missing", sentence, 400)


@bp.errorhandler(HTTPException)
def _http(error: HTTPException) -> Response:
    status = error.code or 500
    sentence = {413: "The body is too large. Nothing was calculated."}.get(
        status, str(error.description)
    )
    return _error_json(f"http-{status}", sentence, status)
