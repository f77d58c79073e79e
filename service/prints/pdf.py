"""Papers as PDF. The libraries are loaded with the first sheet that is asked for, and fonts are read once."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from importlib.resources import as_file, files
from io import BytesIO
from itertools import groupby
from math import ceil
from threading import Lock
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from service.prints.codes import squares
from service.prints.formats import Format, PaperSize
from service.prints.papers import Label, Line, Part, Rows, Sheet, Timetable

if TYPE_CHECKING:
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Flowable

MEDIA_TYPE = "application/pdf"
POINTS_PER_MM = 72 / 25.4
MARGIN_MM = 12
GAP_MM = 7
# Type in points: as large as lets the sheet stay on one page, and never too small to read.
LARGEST_TYPE, SMALLEST_TYPE, TYPE_STEP = 14.0, 8.0, 0.5
LABEL_PADDING_MM = 2
SMALLEST_LABEL_TYPE = 5.5  # the smallest words are three quarters of it; longer text is made smaller as a whole
PLAIN, BOLD = "sheet", "sheet-bold"
UNKNOWN = "[?]"
_ONE_AT_A_TIME = Lock()  # fonts remember what they drew for whom


@lru_cache(maxsize=1)
def _fonts() -> None:
    """Make the fonts known: DejaVu Sans, which has fractions, degrees, boxes to tick and most alphabets."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in ((PLAIN, "DejaVuSans.ttf"), (BOLD, "DejaVuSans-Bold.ttf")):
        with as_file(files("service.prints") / "fonts" / file) as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


def _shown(text: str) -> str:
    """Text as it is drawn from the left: what is written from right to left is put in that order."""
    if any(unicodedata.bidirectional(each) in {"R", "AL", "AN"} for each in text):
        from bidi import get_display

        return str(get_display(text))
    return text


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    """What both fonts can draw."""
    from reportlab.pdfbase import pdfmetrics

    fonts: list[Any] = [pdfmetrics.getFont(name) for name in (PLAIN, BOLD)]
    return frozenset.intersection(*(frozenset(font.face.charToGlyph) for font in fonts))


def _drawn(text: str) -> str:
    """Text in which `[?]` stands for letters that the fonts don't have; what is never seen is left out."""
    seen = (each for each in text if each == "\n" or unicodedata.category(each) not in {"Cc", "Cf"})
    runs = groupby(seen, lambda each: each.isspace() or ord(each) in _letters())
    return "".join("".join(run) if known else UNKNOWN for known, run in runs)


def _marked(text: str) -> str:
    """A caller's text inside the markup of a paragraph."""
    return escape(_drawn(_shown(text))).replace("\n", "<br/>")


def _style(size: float, bold: bool = False, **more: Any) -> ParagraphStyle:
    from reportlab.lib.styles import ParagraphStyle

    return ParagraphStyle(
        f"{size}", fontName=BOLD if bold else PLAIN, fontSize=size, leading=size * 1.18, splitLongWords=1, **more
    )


def _paragraph(text: str, size: float, bold: bool = False, **more: Any) -> Flowable:
    from reportlab.platypus import Paragraph

    return Paragraph(_marked(text), _style(size, bold, **more))


class _Paper:
    """One document that is being made: upright or across, with a line of small type at the foot of each page."""

    def __init__(self, title: str, size: PaperSize, across: bool = False) -> None:
        width, height = (each * POINTS_PER_MM for each in size.mm)
        self.page = (height, width) if across else (width, height)
        self.title = title
        self.margin = MARGIN_MM * POINTS_PER_MM
        self.width = self.page[0] - 2 * self.margin
        self.height = self.page[1] - 2 * self.margin

    def build(self, frames: list[Any], story: list[Flowable]) -> tuple[bytes, int]:
        """The document, and how many pages it has."""
        from reportlab.platypus import BaseDocTemplate, PageTemplate

        out = BytesIO()
        document = BaseDocTemplate(
            out, pagesize=self.page, title=self.title, author="", creator="", invariant=1, pageCompression=1, lang="en"
        )
        first, later = frames
        document.addPageTemplates(
            [PageTemplate("first", first, autoNextPageTemplate="later"), PageTemplate("later", later)]
        )
        document.build(story)
        return out.getvalue(), document.page

    def frame(self, left: float, bottom: float, width: float, height: float) -> Any:
        from reportlab.platypus import Frame

        return Frame(
            self.margin + left,
            self.margin + bottom,
            width,
            height,
            leftPadding=0,
            rightPadding=0,
            topPadding=0,
            bottomPadding=0,
        )


def sheet(made: Sheet, size: PaperSize) -> bytes:
    """A sheet to work from, in the largest type that keeps it on one page; a very long one goes on over more."""
    with _ONE_AT_A_TIME:
        _fonts()
        paper = _Paper(made.title, size)
        type_size = _first_guess(made, paper)
        while True:
            document, pages = _sheet(made, paper, type_size)
            if pages == 1 or type_size <= SMALLEST_TYPE:
                return document
            type_size -= TYPE_STEP


def sheet_type(made: Sheet, size: PaperSize) -> float:
    """About the size of type in points that keeps a sheet on one page."""
    with _ONE_AT_A_TIME:
        _fonts()
        return _first_guess(made, _Paper(made.title, size))


def _first_guess(made: Sheet, paper: _Paper) -> float:
    """The type to begin with: the room that text takes grows with the square of its size."""
    tried = (LARGEST_TYPE + SMALLEST_TYPE) / 2
    column = (paper.width - GAP_MM * POINTS_PER_MM) / 2
    taken = _height([each for part in made.parts for each in _lines(part, tried)], column)
    steps: float = tried * (2 * paper.height / max(taken, 1)) ** 0.5 // TYPE_STEP
    return min(LARGEST_TYPE, max(SMALLEST_TYPE, steps * TYPE_STEP))


def _sheet(made: Sheet, paper: _Paper, size: float) -> tuple[bytes, int]:
    from reportlab.platypus import Table

    gap = GAP_MM * POINTS_PER_MM
    column = (paper.width - gap) / 2
    head: list[Flowable] = [
        _paragraph(made.title, size * 1.7, bold=True),
        *(_paragraph(each, size) for each in made.about),
    ]
    if made.figures:
        across = min(3, len(made.figures))
        boxes = [
            [
                _paragraph(each.what, size, bold=True),
                _paragraph(each.figure, size * 2, bold=True),
                *([_paragraph(each.beside, size)] if each.beside else []),
            ]
            for each in made.figures
        ]
        boxes += [[]] * (-len(boxes) % across)
        table = Table(
            [boxes[at : at + across] for at in range(0, len(boxes), across)],
            colWidths=[paper.width / across] * across,
            spaceBefore=size * 0.5,
            style=[("BOX", (0, 0), (-1, -1), 1.5, "black"), ("INNERGRID", (0, 0), (-1, -1), 1.5, "black")],
        )
        head.append(table)
    head_height = min(_height(head, paper.width) + size * 0.8, paper.height * 0.6)
    below = paper.height - head_height
    story = [*head, _break(), *(each for part in made.parts for each in _part(part, size))]
    story += [_paragraph(each, size * 0.72, spaceBefore=size * 0.3) for each in made.foot]
    columns = [(0.0, column), (column + gap, column)]
    first = [paper.frame(0, below, paper.width, head_height)]
    first += [paper.frame(left, 0, width, below) for left, width in columns]
    return paper.build([first, [paper.frame(left, 0, width, paper.height) for left, width in columns]], story)


def _break() -> Flowable:
    from reportlab.platypus import FrameBreak

    return FrameBreak()


def _height(story: list[Flowable], width: float) -> float:
    found = 0.0
    for each in story:
        found += each.wrap(width, 100_000)[1] + each.getSpaceBefore() + each.getSpaceAfter()
    return found


def _part(part: Part, size: float) -> list[Flowable]:
    from reportlab.platypus import KeepTogether

    heading, first, *others = _lines(part, size)
    return [KeepTogether([heading, first]), *others]


def _lines(part: Part, size: float) -> list[Flowable]:
    heading = _paragraph(part.heading, size * 1.15, bold=True, spaceBefore=size * 0.6, spaceAfter=size * 0.15)
    return [heading, *(_line(each, size) for each in part.lines)]


def _line(line: Line, size: float) -> Flowable:
    from reportlab.platypus import Paragraph

    details = "".join(f'<br/><font size="{size * 0.85:.1f}">{_marked(each)}</font>' for each in line.details)
    indent = size * 1.75 if line.tick else 0
    style = _style(
        size,
        leftIndent=indent,
        spaceBefore=size * 0.2,
        bulletFontName=PLAIN,
        bulletFontSize=size * 1.25,
        bulletIndent=0,
    )
    return Paragraph(_marked(line.says) + details, style, bulletText="\u2610" if line.tick else None)


def rows(made: Rows, size: PaperSize) -> bytes:
    """A list in columns, over as many pages as it takes, its heads on each."""
    from reportlab.platypus import Table

    with _ONE_AT_A_TIME:
        _fonts()
        paper, type_size = _Paper(made.title, size), 10.0
        box = type_size * 1.8
        widths = [box, *((paper.width - box) * each / sum(made.widths) for each in made.widths)]
        cells = [["", *(_paragraph(each, type_size, bold=True) for each in made.heads)]]
        cells += [
            [_paragraph("\u2610", type_size * 1.25), *(_paragraph(each, type_size) for each in row)]
            for row in made.rows
        ]
        style: list[Any] = [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, "black"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), type_size * 0.5),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ]
        story = [
            _paragraph(made.title, type_size * 1.8, bold=True),
            *(_paragraph(each, type_size * 1.1) for each in made.about),
            Table(cells, colWidths=widths, repeatRows=1, style=style, spaceBefore=type_size, hAlign="LEFT"),
            *(_paragraph(each, type_size * 0.9, spaceBefore=type_size) for each in made.foot),
        ]
        whole = [paper.frame(0, 0, paper.width, paper.height)]
        return paper.build([whole, [paper.frame(0, 0, paper.width, paper.height)]], story)[0]


LANE_MM, NAME_MM, CLOCK_MM = 13.0, 38.0, 7.0


def timetable(made: Timetable, size: PaperSize) -> bytes:
    """A day against the clock, across the sheet; a kitchen with much equipment takes more sheets."""
    from reportlab.pdfgen.canvas import Canvas

    with _ONE_AT_A_TIME:
        _fonts()
        paper, out = _Paper(made.title, size, across=True), BytesIO()
        canvas = Canvas(out, pagesize=paper.page, invariant=1, lang="en")
        canvas.setTitle(made.title)
        head = 18 * POINTS_PER_MM
        lane = LANE_MM * POINTS_PER_MM
        per_page = max(1, int((paper.height - head - CLOCK_MM * POINTS_PER_MM) // lane))
        for at in range(0, max(1, len(made.lanes)), per_page):
            _day(canvas, made, paper, head, made.lanes[at : at + per_page])
            canvas.showPage()
        canvas.save()
        return out.getvalue()


def _day(canvas: Canvas, made: Timetable, paper: _Paper, head: float, lanes: Any) -> None:
    top = paper.page[1] - paper.margin
    lane_height, clock = LANE_MM * POINTS_PER_MM, CLOCK_MM * POINTS_PER_MM
    left = paper.margin + NAME_MM * POINTS_PER_MM
    per_minute = (paper.margin + paper.width - left) / made.minutes
    _put(canvas, _paragraph(made.title, 20, bold=True), paper.margin, top, paper.width * 0.6, head)
    about = _paragraph("\n".join(made.about), 11, alignment=2)
    _put(canvas, about, paper.margin + paper.width * 0.6, top, paper.width * 0.4, head)
    bottom = top - head - clock - lane_height * len(lanes)
    canvas.setStrokeGray(0.6)
    canvas.setLineWidth(0.5)
    every = 1 if len(made.hours) <= 15 else 2
    for number, hour in enumerate(made.hours):
        x = left + number * 60 * per_minute
        canvas.line(x, top - head - clock * 0.6, x, bottom)
        if number % every == 0:
            canvas.setFont(PLAIN, 9)
            canvas.drawCentredString(x, top - head - clock * 0.4, hour)
    for number, each in enumerate(lanes):
        lane_top = top - head - clock - number * lane_height
        canvas.setStrokeGray(0.6)
        if each.name:
            canvas.line(paper.margin, lane_top, paper.margin + paper.width, lane_top)
        _put(
            canvas,
            _paragraph(each.name, 10, bold=True),
            paper.margin,
            lane_top - 3,
            left - paper.margin - 4,
            lane_height,
        )
        for stay in each.stays:
            x, width = left + stay.starts_min * per_minute, (stay.ends_min - stay.starts_min) * per_minute
            canvas.setStrokeGray(0)
            canvas.setFillGray(0.82 if stay.mine else 0.95)
            canvas.setLineWidth(1.6 if stay.mine else 0.8)
            canvas.rect(x, lane_top - lane_height + 2, width, lane_height - 4, fill=1)
            canvas.setFillGray(0)
            _put(canvas, _paragraph(stay.says, 7), x + 2, lane_top - 3, width - 4, lane_height - 7)
    canvas.line(paper.margin, bottom, paper.margin + paper.width, bottom)
    if not lanes:
        _put(canvas, _paragraph("There is no equipment.", 12), paper.margin, top - head - clock, paper.width, head)


def _put(canvas: Canvas, flowable: Flowable, left: float, top: float, width: float, height: float) -> None:
    """Draw something in a place, made smaller where it is too long for it."""
    from reportlab.platypus import KeepInFrame

    fitted = KeepInFrame(max(width, 1), height, [flowable], mode="shrink", hAlign="LEFT")
    _, taken = fitted.wrapOn(canvas, max(width, 1), height)
    fitted.drawOn(canvas, left, top - taken)


def labels(made: list[Label], form: Format, first: int) -> bytes:
    """Labels on sheets, from the sheet's label `first` on, counted from one; one that comes often is drawn once."""
    from reportlab.pdfgen.canvas import Canvas

    with _ONE_AT_A_TIME:
        _fonts()
        out = BytesIO()
        width, height = (each * POINTS_PER_MM for each in form.page_mm)
        canvas = Canvas(out, pagesize=(width, height), invariant=1, lang="en")
        canvas.setTitle(", ".join(dict.fromkeys(f"{each.title} {each.lot_code}" for each in made))[:500])
        drawn = {label: f"label-{number}" for number, label in enumerate(dict.fromkeys(made))}
        for label, name in drawn.items():
            right, below = (ceil(each * POINTS_PER_MM) for each in form.label_mm)
            canvas.beginForm(name, 0, -below, right, 0)
            _label(canvas, label, form)
            canvas.endForm()
        for number, label in enumerate(made, first - 1):
            if number % form.per_page == 0 and number >= form.per_page:
                canvas.showPage()
            left, top = (each * POINTS_PER_MM for each in form.place_mm(number))
            canvas.saveState()
            canvas.translate(left, height - top)
            canvas.doForm(drawn[label])
            canvas.restoreState()
        canvas.save()
        return out.getvalue()


def code_mm(form: Format) -> float:
    """The side of the square that a label's code takes, with its quiet margin."""
    width, height = form.label_mm
    return min(height - 2, width * 0.33, 32)


def _label(canvas: Canvas, label: Label, form: Format) -> None:
    """A label below and right of the origin."""
    width, height = (each * POINTS_PER_MM for each in form.label_mm)
    code, lines = code_mm(form) * POINTS_PER_MM, squares(label.opens)
    step, left, top = code / len(lines), width - code - POINTS_PER_MM, (code - height) / 2
    canvas.setFillGray(0)
    path = canvas.beginPath()
    for row, line in enumerate(lines):
        for column, dark in enumerate(line):
            if dark:
                path.rect(left + column * step, top - (row + 1) * step, step, step)
    canvas.drawPath(path, stroke=0, fill=1)
    text_width, text_height = _text_points(form)
    _, story = _fitted(label, text_width, text_height)
    from reportlab.platypus import KeepInFrame

    block = KeepInFrame(text_width, text_height, story, mode="shrink", hAlign="LEFT")
    _, taken = block.wrapOn(canvas, text_width, text_height)
    block.drawOn(canvas, LABEL_PADDING_MM * POINTS_PER_MM, -(height + taken) / 2)


def label_type(label: Label, form: Format) -> float:
    """The size of type in points in which everything on a label has room."""
    with _ONE_AT_A_TIME:
        _fonts()
        return _fitted(label, *_text_points(form))[0]


def _text_points(form: Format) -> tuple[float, float]:
    """The width and height that are left for text."""
    width, height = form.label_mm
    room = width - code_mm(form) - 1 - LABEL_PADDING_MM, height - 1.6 * LABEL_PADDING_MM
    return room[0] * POINTS_PER_MM, room[1] * POINTS_PER_MM


def _fitted(label: Label, width: float, height: float) -> tuple[float, list[Flowable]]:
    size = min(12.0, height / 6)
    while True:
        story = [
            _paragraph(_cut(label.title, size * 1.25, width), size * 1.25, bold=True),
            *([_paragraph(label.warning, size, bold=True)] if label.warning else []),
            *(_paragraph(each, size * 0.85) for each in label.dates),
            _paragraph(f"Lot {label.lot_code}", size, bold=True),
            _paragraph(", ".join(filter(None, (label.jar_size, label.keep, label.kitchen))), size * 0.75),
            *(_paragraph(each, size * 0.75) for each in label.allergens),
        ]
        if size <= SMALLEST_LABEL_TYPE or _height(story, width) <= height:
            return size, story
        size -= 0.25


def _cut(title: str, size: float, width: float) -> str:
    """A title in two lines: what else stands on a label is never made small for it."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    room = 1.85 * width
    if stringWidth(title, BOLD, size) <= room:
        return title
    while title and stringWidth(f"{title}…", BOLD, size) > room:
        title = title[:-1]
    return f"{title.rstrip()}…"
