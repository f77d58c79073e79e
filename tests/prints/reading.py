"""Reading papers back with programs that had no part in making them: PDFium for text and pictures, ZXing for codes."""

import re
from typing import Any

import pypdfium2
import zxingcpp

from tests.conftest import Client, Person

DOTS_PER_INCH = 150
POINTS_PER_INCH = 72


def printed(client: Client, path: str, who: Person | None = None, **query: Any) -> Any:
    return client.get(f"/v1/prints/{path}", params=query, headers=(who or client.member).headers)


def pdf(client: Client, path: str, who: Person | None = None, **query: Any) -> pypdfium2.PdfDocument:
    answer = printed(client, path, who, **{"as": "pdf"}, **query)
    assert (answer.status_code, answer.headers.get("content-type")) == (200, "application/pdf"), answer.text
    return pypdfium2.PdfDocument(answer.content)


def text(document: pypdfium2.PdfDocument) -> str:
    """The words of all pages, line ends made spaces."""
    found = "\n".join(page.get_textpage().get_text_bounded() for page in document)
    return re.sub(r"\s+", " ", found)


def codes(document: pypdfium2.PdfDocument) -> list[str]:
    """The links in the codes of the first page, as a camera would find them in its picture."""
    picture = document[0].render(scale=DOTS_PER_INCH / POINTS_PER_INCH, grayscale=True).to_numpy()
    return [each.text for each in zxingcpp.read_barcodes(picture)]
