"""The tables of recipes: what a member wrote, revision by revision, and the check each revision got."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import JSON, CheckConstraint, ForeignKeyConstraint, Index
from sqlmodel import Field

from service.database.rows import Row


class Recipe(Row, table=True):
    """A recipe of one member, in as many revisions as were written."""

    __tablename__ = "recipe"
    __table_args__ = (
        Index("ix_recipe_kitchen_id_made_at_id", "kitchen_id", "made_at", "id"),
        Index("ix_recipe_member_id_made_at_id", "member_id", "made_at", "id"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    member_id: UUID = Field(foreign_key="member.id")
    made_at: datetime


class Revision(Row, table=True):
    """One revision of a recipe as it was sent. Written once, never changed: the database refuses it."""

    __tablename__ = "revision"
    __table_args__ = (CheckConstraint("number >= 1", name="revisions_count_from_one"),)

    recipe_id: UUID = Field(foreign_key="recipe.id", primary_key=True)
    number: int = Field(primary_key=True)
    title: str = Field(max_length=200)
    body: dict[str, Any] = Field(sa_type=JSON)
    made_by: UUID = Field(foreign_key="member.id")
    made_at: datetime


class Check(Row, table=True):
    """What one edition of the rulebook said about a revision at one altitude. Written once, never changed."""

    __tablename__ = "revision_check"
    __table_args__ = (ForeignKeyConstraint(["recipe_id", "revision"], ["revision.recipe_id", "revision.number"]),)

    recipe_id: UUID = Field(primary_key=True)
    revision: int = Field(primary_key=True)
    rulebook: str = Field(primary_key=True, max_length=40)
    altitude_ft: int = Field(primary_key=True)
    verdict: str = Field(max_length=40)
    severities: list[str] = Field(sa_type=JSON)
    answer: dict[str, Any] = Field(sa_type=JSON)
    judged_at: datetime
