"""The templates of pages: what stands in them is escaped, and a name that is not there fails."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Template


def template(name: str, **filters: object) -> Template:
    """A template of this folder; ``filters`` by the name that it calls them by."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("estimator.report.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(filters)
    return environment.get_template(name)
