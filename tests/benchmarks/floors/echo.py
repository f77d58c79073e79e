"""A recipe is read, validated and written back: the floor of a recipe check."""

from fastapi import FastAPI

from service.checks.bodies import RecipeCheckRequest

app = FastAPI()


@app.get("/ready")
async def ready() -> None:
    """Answer."""


@app.post("/echo")
async def echo(recipe: RecipeCheckRequest) -> RecipeCheckRequest:
    """Say what was said."""
    return recipe
