"""An invented hall kitchen, filled and shown through the service's own HTTP interface."""
