"""A REST API for shared canning kitchens: check a recipe, book the stove, run the batch, keep the jars."""
