"""Dates, times and names as people read them: the filters of the templates."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from functools import cache

from flask import Flask
from markupsafe import Markup

from app.parts import this_site


def day(value: date | None) -> str:
    """26 Nov 2026."""
    return f"{value.day} {value:%b %Y}" if value else "no date"


def clock_time(value: datetime) -> str:
    """Tue 24 Nov 2026, 09:41 in the site's zone."""
    local = value.astimezone(this_site().tz)
    return f"{local:%a} {local.day} {local:%b %Y, %H:%M}"


def short_time(value: datetime) -> str:
    """26 Nov, 00:00 in the site's zone, where the year is not in doubt."""
    local = value.astimezone(this_site().tz)
    return f"{local.day} {local:%b, %H:%M}" if local.year == value.year else clock_time(value)


def to_the_second(value: datetime) -> str:
    """Tue 24 Nov, 09:41:07 in the site's zone: an answer of yesterday is known by it."""
    local = value.astimezone(this_site().tz)
    return f"{local:%a} {local.day} {local:%b, %H:%M:%S}"


def init_app(app: Flask) -> None:
    def drawing(name: str) -> Callable[..., Markup]:
        """Return a macro of `ui/` whose drawings are made once and kept."""
        return cache(
            lambda *which: getattr(app.jinja_env.get_template(f"ui/{name}.html").module, name)(
                *which
            )
        )

    app.jinja_env.globals.update(shape=drawing("shape"), mark=drawing("mark"))
    app.jinja_env.filters.update(
        day=day, clock_time=clock_time, short_time=short_time, to_the_second=to_the_second
    )
