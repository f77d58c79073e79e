"""The tables of POSTs that were answered, for a repeat to get the same answer, and of what the service signs with."""

from datetime import datetime
from uuid import UUID

from sqlmodel import Field

from service.database.rows import Row


class AnsweredPost(Row, table=True):
    """The answer one member got for one key, written with the work it answers."""

    __tablename__ = "answered_post"

    member_id: UUID = Field(foreign_key="member.id", primary_key=True)
    key: str = Field(max_length=255, primary_key=True)
    request_sha256: str = Field(max_length=64)
    status: int
    headers: str
    body: str
    answered_at: datetime


class SigningKey(Row, table=True):
    """What the service signs with, so that every process and every later start knows its own writing again."""

    __tablename__ = "signing_key"

    purpose: str = Field(max_length=40, primary_key=True)
    key_hex: str = Field(max_length=64)
