"""The base of every body that comes in and of every answer that goes out."""

import warnings
from typing import Any, Generic, Self, TypeVar

from pydantic import BaseModel, ConfigDict
from pydantic.warnings import UnsupportedFieldAttributeWarning

# Each validator is built when it is first used: building all of them is a quarter of a start, and one worker's kitchen
# uses few of them in an hour.
LATER = ConfigDict(defer_build=True)
warnings.simplefilter("ignore", UnsupportedFieldAttributeWarning)  # as FastAPI does where it builds one at once


class Body(BaseModel):
    """JSON that a caller sends; fields we don't know are refused."""

    model_config = LATER | ConfigDict(extra="forbid", frozen=True)


_put = object.__setattr__


class Answer(BaseModel):
    """JSON that a caller gets."""

    model_config = LATER | ConfigDict(frozen=True, from_attributes=True)

    @classmethod
    def as_kept(cls, **fields: Any) -> Self:
        """Show what the database holds, every field in its order, without validating it once more.

        For the lists that are read most: to validate a line takes longer than to fetch it and to write it.
        """
        answer = cls.__new__(cls)
        _put(answer, "__dict__", fields)
        _put(answer, "__pydantic_fields_set__", set(fields))
        _put(answer, "__pydantic_extra__", None)
        _put(answer, "__pydantic_private__", None)
        return answer


Item = TypeVar("Item")


class Listed(Answer, Generic[Item]):
    """One page of a list. Each list is a class of its own, so that the contract has its name."""

    items: tuple[Item, ...]
    next_cursor: str | None


class ShapeError(Answer):
    """One place of a request that has the wrong shape."""

    pointer: str | None = None
    parameter: str | None = None
    code: str
    detail: str


class ProblemDetails(BaseModel):
    """Why a request wasn't done (RFC 9457); clients switch on `code`, and some codes carry more fields."""

    model_config = ConfigDict(
        extra="allow",
        json_schema_extra={
            "examples": [
                {
                    "type": "/problems/not-found",
                    "title": "Not here",
                    "status": 404,
                    "code": "not-found",
                    "detail": "There is no such thing in this kitchen.",
                    "instance": "urn:uuid:7d0f4a52-6a2e-4b5c-9a43-0f4c5d8e1b11",
                }
            ]
        },
    )

    type: str
    title: str
    status: int
    code: str
    detail: str
    instance: str
    errors: list[ShapeError] | None = None


def example(**fields: Any) -> ConfigDict:
    """The example of a body: `model_config = example(name="Ada", role="member")`."""
    return ConfigDict(json_schema_extra={"examples": [fields]})
