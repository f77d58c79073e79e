"""What every answer that shows a published figure is made of."""

from pydantic import BaseModel, ConfigDict, Field

from service.core.measures.bounds import Bounds
from service.core.rules.facts import Acid, Band, Source
from service.core.rules.processes import How, Option


class Shown(BaseModel):
    """A part of an answer."""

    model_config = ConfigDict(frozen=True, defer_build=True)


class PublishedSource(Shown):
    """Where a figure was published, and how well it is known."""

    title: str
    publisher: str
    url: str | None
    evidence: str = Field(description="read, computed, memory (to be confirmed) or common-practice")

    @classmethod
    def of(cls, source: Source) -> "PublishedSource":
        """Show a source."""
        return cls(title=source.title, publisher=source.publisher, url=source.url, evidence=source.evidence)


class PublishedRange(Shown):
    """Everything between two figures; no `high` where nothing is known to end it."""

    low: float
    high: float | None

    @classmethod
    def of(cls, bounds: Bounds) -> "PublishedRange":
        """Show a range."""
        return cls(low=float(bounds.low), high=None if bounds.high is None else float(bounds.high))


class PublishedBand(Shown):
    """Whole feet, both ends included; no `high` above the last printed edge."""

    low: int
    high: int | None

    @classmethod
    def of(cls, band: Band) -> "PublishedBand":
        """Show an altitude band."""
        return cls(low=band.low_ft, high=band.high_ft)


class PublishedAcid(Shown):
    """One acid that may go into each jar; where several are listed, any one of them."""

    name: str
    unit: str
    amounts: dict[str, float] = Field(description="by jar size")

    @classmethod
    def of(cls, acid: Acid) -> "PublishedAcid":
        """Show an acid."""
        amounts = {size: float(amount) for size, amount in acid.per_jar.items()}
        return cls(name=acid.name, unit=acid.unit, amounts=amounts)


class PublishedProcess(Shown):
    """One published process for one altitude band."""

    id: str
    product: str
    family: str
    acidity: str
    pack: str
    method: str
    jar_sizes: list[str] = Field(description="as printed")
    by: str | None = Field(description="the published equivalence by which the row covers the jar size asked for")
    altitude_band_ft: PublishedBand
    minutes: int
    pressure_psi: int | None
    headspace_in: float | None
    sterile_jars: bool
    acid_source: str
    acid_per_jar: list[PublishedAcid] | None
    starch: str | None
    covers: str = Field(description="plain-pack: any plain pack of the product; formula: a tested recipe's own only")
    notes: str
    source: PublishedSource

    @classmethod
    def of(cls, option: Option) -> "PublishedProcess":
        """Show a process at one of its bands."""
        process, figures = option.process, option.figures
        return cls(
            id=process.id,
            product=process.product,
            family=process.family,
            acidity=process.acidity,
            pack=process.pack,
            method=process.method,
            jar_sizes=list(process.jar_sizes),
            by=None if option.how is How.PRINTED else option.how,
            altitude_band_ft=PublishedBand.of(figures.band),
            minutes=figures.minutes,
            pressure_psi=figures.pressure_psi,
            headspace_in=None if process.headspace_in is None else float(process.headspace_in),
            sterile_jars=figures.sterile_jars,
            acid_source=process.acid_source,
            acid_per_jar=[PublishedAcid.of(acid) for acid in process.acids] or None,
            starch=process.starch,
            covers=process.covers,
            notes=process.notes,
            source=PublishedSource.of(process.source),
        )
