"""Keeping what the kitchen knows: backups while it goes on, putting them back, and proving that nothing is amiss."""
