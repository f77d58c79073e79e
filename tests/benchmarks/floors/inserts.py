"""One row inserted by its driver, durable before it is answered: the floor of a booking.

`BENCH_DATABASE_URL` names the database, `BENCH_STATEMENT` is the insert, which takes an id.
"""

import os
from uuid import uuid4

from fastapi import FastAPI
from pydantic import BaseModel
from sqlalchemy import create_engine

engine = create_engine(os.environ["BENCH_DATABASE_URL"])
statement = os.environ["BENCH_STATEMENT"]
app = FastAPI()


class Said(BaseModel):
    """As much as has to be sent for a booking."""

    equipment_id: str
    starts_at: str
    ends_at: str
    purpose: str


@app.get("/ready")
def ready() -> None:
    """Connect."""
    with engine.connect():
        pass


@app.post("/rows", status_code=201)
def insert(said: Said) -> Said:
    """Insert a row and say what was said."""
    with engine.begin() as connection:
        connection.exec_driver_sql(statement, (str(uuid4()),))
    return said
