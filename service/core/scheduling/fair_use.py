"""Each member's fair share of a kitchen, as a coordinator set it: how far ahead, how many bookings, how many canner
hours a week."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from itertools import pairwise
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.bookings import Claim
from service.core.scheduling.hours import end_of_day
from service.core.scheduling.spans import Span, around, at_minute, minute_of

ONE_DAY = timedelta(days=1)
ONE_WEEK = timedelta(weeks=1)
WEEKS_LOOKED_AHEAD = 53
USUAL_OFFER_MINUTES = 120  # common practice, no source


@dataclass(frozen=True, slots=True)
class Limits:
    """The most one member may take; `None` is no limit."""

    days_ahead: int | None = None
    open_bookings: int | None = None
    canner_minutes_a_week: int | None = None


@dataclass(frozen=True, slots=True)
class Season:
    """Days with figures of their own, the last one included; a figure it leaves out is that of the whole year."""

    name: str
    first_on: date
    last_on: date
    limits: Limits


@dataclass(frozen=True, slots=True)
class FairUse:
    limits: Limits = Limits()
    seasons: tuple[Season, ...] = ()
    offer_minutes: int = USUAL_OFFER_MINUTES  # how long freed time is kept for whoever waits for it

    def figure(self, name: str, day: date) -> tuple[int | None, Season | None]:
        """A limit as it is on a day, and the season it is of; `None` for that of the whole year."""
        for season in self.seasons:
            most: int | None = getattr(season.limits, name)
            if season.first_on <= day <= season.last_on and most is not None:
                return most, season
        return getattr(self.limits, name), None


@dataclass(frozen=True, slots=True)
class Use:
    """What one booking takes: its whole time, and the time of each canner."""

    whole: Span
    canners: tuple[Span, ...]
    is_open: bool = True  # neither done nor over


@dataclass(frozen=True, slots=True)
class Shares:
    """The limits as they hold for the batches of a plan, with what each member has already."""

    rules: FairUse
    zone: tzinfo
    now: datetime
    others: Mapping[UUID, tuple[Use, ...]]

    def refused(self, member_id: UUID, uses: Iterable[Use]) -> Refused | None:
        """Why a member can't have all of these beside what they have, one after another in order of time."""
        others = self._of(member_id)
        for asked in sorted(uses, key=lambda use: use.whole):
            too_much = more_than_fair(self.rules, asked, others, self.zone, self.now)
            if too_much:
                return too_much
            others = (*others, asked)
        return None

    def out_of_reach(self, member_id: UUID, bookings: int, within: Span) -> Refused | None:
        """Why a member can't have so many more bookings on any one day of a time, before canners are asked about.

        Two seasons may each take some of them: only what no day could take is told at once, the plan sees to the rest.
        """
        first = within.starts_min
        found = []
        while first < within.ends_min:
            asked = Use(Span(first, first + 1), ())
            found.append(self.refused(member_id, [asked] * bookings))
            first = self.tomorrow_min(first)
        return found[0] if found and all(found) and (bookings == 1 or len(self.rules.seasons) == 0) else None

    def days(self, span: Span) -> tuple[date, ...]:
        """The local days that a span touches."""
        first, last = _day(span.starts_min, self.zone), _day(span.ends_min - 1, self.zone)
        return tuple(first + place * ONE_DAY for place in range((last - first).days + 1))

    def tomorrow_min(self, minute: int) -> int:
        return end_of_day(_day(minute, self.zone), self.zone)

    def reaches(self, day: date) -> bool:
        return _too_far_ahead(self.rules, day, self.zone, self.now) is None

    def bookings_left(self, member_id: UUID, day: date) -> tuple[Season | None, int | None]:
        """How many bookings a member may still have on such a day, and the season they count in."""
        most, season = self.rules.figure("open_bookings", day)
        return season, None if most is None else most - len(_open(self.rules, self._of(member_id), season, self.zone))

    def canner_minutes_left(self, member_id: UUID, day: date) -> tuple[date, int | None]:
        """How long a member may still have canners in the week of a day, which is known by its Monday."""
        monday, (most, _) = self.monday(day), _figure(self.rules, day)
        return monday, None if most is None else most - _minutes_by_week(self._of(member_id), self.zone)[monday]

    def monday(self, day: date) -> date:
        return day - day.weekday() * ONE_DAY

    def _of(self, member_id: UUID) -> tuple[Use, ...]:
        return self.others.get(member_id, ())


def senseless(seasons: Iterable[Season]) -> Refused | None:
    """What makes no sense in a list of seasons, if anything does."""
    ordered = sorted(seasons, key=lambda season: season.first_on)
    if any(season.last_on < season.first_on for season in ordered):
        return Refused("ends-before-start", "A season can't end before it starts.")
    if any(later.first_on <= earlier.last_on for earlier, later in pairwise(ordered)):
        return Refused("not-possible", "Two seasons have days in common.")
    return None


def use_of(claims: Sequence[Claim], canner_ids: Collection[UUID]) -> Use:
    """What a booking with these claims would take."""
    whole = around(min(claim.starts_at for claim in claims), max(claim.ends_at for claim in claims))
    canners = (around(claim.starts_at, claim.ends_at) for claim in claims if claim.equipment_id in canner_ids)
    return Use(whole, tuple(canners))


def more_than_fair(fair_use: FairUse, asked: Use, others: Sequence[Use], zone: tzinfo, now: datetime) -> Refused | None:
    """Why a member who has the others can't have this too, and when they can; `None` if they can."""
    day = _day(asked.whole.starts_min, zone)
    return (
        _too_far_ahead(fair_use, day, zone, now)
        or _too_many_open(fair_use, asked, day, others, zone, now)
        or _too_long_at_canners(fair_use, asked, others, zone)
    )


def _too_far_ahead(fair_use: FairUse, day: date, zone: tzinfo, now: datetime) -> Refused | None:
    most, season = fair_use.figure("days_ahead", day)
    if most is None or day <= now.astimezone(zone).date() + most * ONE_DAY:
        return None
    detail = f"A member books at most {most} days ahead."
    return _refused("days-ahead", detail, most, season, possible_at=at_minute(_midnight(day - most * ONE_DAY, zone)))


def _too_many_open(
    fair_use: FairUse, asked: Use, day: date, others: Sequence[Use], zone: tzinfo, now: datetime
) -> Refused | None:
    """Bookings of a season with a figure of its own count towards that one, all others towards the year's."""
    most, season = fair_use.figure("open_bookings", day)
    if most is None or asked.whole.ends_min <= minute_of(now):
        return None
    ends = _open(fair_use, others, season, zone)
    if len(ends) < most:
        return None
    detail = f"A member has at most {most} bookings that lie ahead."
    possible_at = at_minute(ends[len(ends) - most]) if most else None
    return _refused("open-bookings", detail, most, season, used=len(ends), possible_at=possible_at)


def _open(fair_use: FairUse, others: Iterable[Use], season: Season | None, zone: tzinfo) -> list[int]:
    """When those end that count towards the same figure, in order."""
    return sorted(
        use.whole.ends_min
        for use in others
        if use.is_open and fair_use.figure("open_bookings", _day(use.whole.starts_min, zone))[1] == season
    )


def _too_long_at_canners(fair_use: FairUse, asked: Use, others: Sequence[Use], zone: tzinfo) -> Refused | None:
    """Minutes count in the week they lie in, from Monday's midnight to the next on the kitchen's own clock."""
    used = _minutes_by_week(others, zone)
    wanted = Counter[date]()
    for part in _parts([asked], zone):
        monday, (most, season) = _monday(part, zone), _figure(fair_use, _day(part.starts_min, zone))
        wanted[monday] += part.minutes
        if most is not None and used[monday] + wanted[monday] > most:
            detail = f"A member has canners for at most {_hours(most)} a week."
            possible_at = _week_with_room(fair_use, used, monday, sum(span.minutes for span in asked.canners), zone)
            return _refused("canner-minutes-a-week", detail, most, season, used=used[monday], possible_at=possible_at)
    return None


def _minutes_by_week(uses: Iterable[Use], zone: tzinfo) -> Counter[date]:
    used = Counter[date]()
    for part in _parts(uses, zone):
        used[_monday(part, zone)] += part.minutes
    return used


def _week_with_room(fair_use: FairUse, used: Counter[date], after: date, minutes: int, zone: tzinfo) -> datetime | None:
    for weeks in range(1, WEEKS_LOOKED_AHEAD):
        monday = after + weeks * ONE_WEEK
        most, _ = _figure(fair_use, monday)
        if most is None or used[monday] + minutes <= most:
            return at_minute(_midnight(monday, zone))
    return None


def _figure(fair_use: FairUse, day: date) -> tuple[int | None, Season | None]:
    return fair_use.figure("canner_minutes_a_week", day)


def _parts(uses: Iterable[Use], zone: tzinfo) -> Iterator[Span]:
    """The time at canners, cut where one week ends and the next begins."""
    for span in (span for use in uses for span in use.canners):
        starts_min = span.starts_min
        while starts_min < span.ends_min:
            ends_min = min(span.ends_min, _midnight(_monday(Span(starts_min, span.ends_min), zone) + ONE_WEEK, zone))
            yield Span(starts_min, ends_min)
            starts_min = ends_min


def _monday(part: Span, zone: tzinfo) -> date:
    day = _day(part.starts_min, zone)
    return day - day.weekday() * ONE_DAY


def _day(minute: int, zone: tzinfo) -> date:
    return at_minute(minute).astimezone(zone).date()


def _midnight(day: date, zone: tzinfo) -> int:
    """The minute at which a local day begins."""
    return end_of_day(day - ONE_DAY, zone)


def _hours(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    return f"{hours} hours" + (f" and {rest} minutes" if rest else "")


def _refused(
    limit: str,
    detail: str,
    most: int,
    season: Season | None,
    *,
    used: int | None = None,
    possible_at: datetime | None,
) -> Refused:
    extra = {
        "limit": limit,
        "most": most,
        "used": used,
        "season": season.name if season else None,
        "possible_at": possible_at,
    }
    return Refused("fair-use", detail, extra)
