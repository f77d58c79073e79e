"""Applications that do the least that could be done, for the service to be compared with."""
