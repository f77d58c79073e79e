"""Pages as a parser of the HTML standard reads them, and forms as a browser sends them."""

from collections.abc import Iterator
from typing import Any
from xml.etree.ElementTree import Element

import html5lib

from tests.conftest import Client, Person

FROM_HERE = {"Sec-Fetch-Site": "same-origin", "Accept": "text/html"}
SVG = "{http://www.w3.org/2000/svg}"


class Read:
    """An answer that is a page."""

    def __init__(self, answer: Any) -> None:
        self.answer = answer
        self.status = answer.status_code
        assert answer.headers["content-type"] == "text/html; charset=utf-8"
        parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)  # strict: a parse error raises
        self.root: Element = parser.parse(answer.text)

    def all(self, tag: str, within: Element | None = None, **given: str) -> list[Element]:
        return [
            each
            for each in (self.root if within is None else within).iter(tag)
            if all(each.get(name.rstrip("_").replace("_", "-")) == value for name, value in given.items())
        ]

    def one(self, tag: str, within: Element | None = None, **given: str) -> Element:
        (found,) = self.all(tag, within, **given)
        return found

    @property
    def text(self) -> str:
        return words(self.root.find("body"))

    def section(self, title: str) -> Element:
        """The section of a heading."""
        return next(each for each in self.all("section") if any(words(h) == title for h in each.iter("h2")))

    def fields(self, form: Element) -> dict[str, str]:
        """What a form sends as it stands."""
        found: dict[str, str] = {}
        for each in form.iter():
            name = each.get("name")
            if name and each.tag == "input" and each.get("type") != "checkbox":
                found[name] = each.get("value", "")
            elif name and each.tag == "textarea":
                found[name] = each.text or ""
            elif name and each.tag == "select":
                options = list(each.iter("option"))
                chosen = next((option for option in options if option.get("selected") is not None), options[0])
                found[name] = chosen.get("value", words(chosen))
        return found


def words(element: Element | None) -> str:
    """The words of an element, but those of pictures."""
    assert element is not None
    return " ".join(" ".join(_words(element)).split())


def _words(element: Element) -> Iterator[str]:
    if element.tag.startswith(SVG) or element.tag in ("script", "style"):
        return
    yield element.text or ""
    for child in element:
        yield from _words(child)
        yield child.tail or ""


def see(client: Client, path: str, who: Person | None) -> Read:
    """A page as somebody sees it."""
    return Read(client.get(path, headers={"Accept": "text/html", **(who.headers if who else {})}))


def send(client: Client, path: str, form: dict[str, str], who: Person | None, **headers: str) -> Any:
    """A form as a browser of somebody's sends it: with the cookie, from a page of this service."""
    cookies = {"Cookie": f"canning_kitchen={who.token}"} if who else {}
    return client.post(path, data=form, headers={**FROM_HERE, **cookies, **headers}, follow_redirects=False)
