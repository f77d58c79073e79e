"""Pages for people: Jinja templates from the `templates` folder of each feature, escaped without being asked."""

from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment


@lru_cache(maxsize=1)
def _templates() -> "Environment":
    from jinja2 import Environment, PackageLoader, StrictUndefined  # 4 MB: clients of the API see no page

    return Environment(
        loader=PackageLoader("service", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def fill(template: str, **values: object) -> str:
    """Fill a template named by its feature: `board/today.html` is `service/board/templates/today.html`."""
    feature, _, name = template.partition("/")
    return _templates().get_template(f"{feature}/templates/{name}").render(values)
