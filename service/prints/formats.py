"""Sheets of labels by their measures, and single labels as a label printer takes them.

The measures are those that sheets of these numbers of labels commonly have (common practice, no source): print one
sheet on plain paper first and hold it against the labels.
"""

from dataclasses import dataclass
from enum import StrEnum

MM_PER_INCH = 25.4


class PaperSize(StrEnum):
    """The paper that is printed on."""

    LETTER = "letter"
    A4 = "a4"

    @property
    def mm(self) -> tuple[float, float]:
        """Width and height of the upright sheet."""
        return (215.9, 279.4) if self is PaperSize.LETTER else (210.0, 297.0)


@dataclass(frozen=True, slots=True)
class Format:
    """Labels of `label_mm` (width, height) in columns and rows; the first one's corner and the steps, in mm."""

    page_mm: tuple[float, float]
    columns: int
    rows: int
    label_mm: tuple[float, float]
    corner_mm: tuple[float, float]
    step_mm: tuple[float, float]

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    def place_mm(self, at: int) -> tuple[float, float]:
        """The left and top edge of a label, counted along the rows from nought."""
        row, column = divmod(at % self.per_page, self.columns)
        return self.corner_mm[0] + column * self.step_mm[0], self.corner_mm[1] + row * self.step_mm[1]


class LabelFormat(StrEnum):
    """How many labels of what size a sheet has: columns x rows, and each label's width x height."""

    LETTER_3X10 = "letter-3x10-2.625x1in"
    LETTER_2X10 = "letter-2x10-4x1in"
    LETTER_2X7 = "letter-2x7-4x1.333in"
    LETTER_2X5 = "letter-2x5-4x2in"
    LETTER_2X3 = "letter-2x3-4x3.333in"
    A4_3X8 = "a4-3x8-70x37mm"
    A4_3X7 = "a4-3x7-63.5x38.1mm"
    A4_2X7 = "a4-2x7-99.1x38.1mm"
    A4_2X4 = "a4-2x4-99.1x67.7mm"
    SINGLE_4X2 = "single-4x2in"
    SINGLE_2_25X1_25 = "single-2.25x1.25in"
    SINGLE_62X40 = "single-62x40mm"


def _inches(columns: int, rows: int, width: float, height: float, left: float, top: float, across: float) -> Format:
    label = (width * MM_PER_INCH, height * MM_PER_INCH)
    return Format(
        PaperSize.LETTER.mm,
        columns,
        rows,
        label,
        (left * MM_PER_INCH, top * MM_PER_INCH),
        (across * MM_PER_INCH, label[1]),
    )


def _mm(columns: int, rows: int, width: float, height: float, left: float, top: float, across: float) -> Format:
    return Format(PaperSize.A4.mm, columns, rows, (width, height), (left, top), (across, height))


def _single(width: float, height: float) -> Format:
    return Format((width, height), 1, 1, (width, height), (0, 0), (width, height))


FORMATS: dict[LabelFormat, Format] = {
    LabelFormat.LETTER_3X10: _inches(3, 10, 2.625, 1, 0.1875, 0.5, 2.75),
    LabelFormat.LETTER_2X10: _inches(2, 10, 4, 1, 0.15625, 0.5, 4.1875),
    LabelFormat.LETTER_2X7: _inches(2, 7, 4, 4 / 3, 0.15625, 0.8333, 4.1875),
    LabelFormat.LETTER_2X5: _inches(2, 5, 4, 2, 0.15625, 0.5, 4.1875),
    LabelFormat.LETTER_2X3: _inches(2, 3, 4, 10 / 3, 0.15625, 0.5, 4.1875),
    LabelFormat.A4_3X8: _mm(3, 8, 70, 37, 0, 0.5, 70),
    LabelFormat.A4_3X7: _mm(3, 7, 63.5, 38.1, 7.25, 15.15, 66.0),
    LabelFormat.A4_2X7: _mm(2, 7, 99.1, 38.1, 4.65, 15.15, 101.6),
    LabelFormat.A4_2X4: _mm(2, 4, 99.1, 67.7, 4.65, 13.1, 101.6),
    LabelFormat.SINGLE_4X2: _single(4 * MM_PER_INCH, 2 * MM_PER_INCH),
    LabelFormat.SINGLE_2_25X1_25: _single(2.25 * MM_PER_INCH, 1.25 * MM_PER_INCH),
    LabelFormat.SINGLE_62X40: _single(62, 40),
}
