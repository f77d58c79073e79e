"""One table read by its driver: the floor of a list, of a start, and of the memory of a worker.

`BENCH_DATABASE_URL` names the database, `BENCH_QUERIES` holds a JSON object of the SQL behind each name.
"""

import json
import os

from fastapi import FastAPI, Response
from sqlmodel import Field, Session, SQLModel, create_engine, select

engine = create_engine(os.environ["BENCH_DATABASE_URL"])
queries = json.loads(os.environ.get("BENCH_QUERIES", "{}"))
app = FastAPI()


class Kitchen(SQLModel, table=True):
    """Of our tables, one."""

    id: str = Field(primary_key=True)
    name: str


@app.get("/ready")
def ready() -> str:
    """Read one row, as a first answer should."""
    with Session(engine) as session:
        return str(session.exec(select(Kitchen.name)).first())


@app.get("/rows/{name}")
def rows(name: str) -> Response:
    """What a query finds, as it comes."""
    with engine.connect() as connection:
        found = connection.exec_driver_sql(queries[name]).fetchall()
    return Response(json.dumps([tuple(each) for each in found], default=str), media_type="application/json")
