"""Who did what, to what and when: an entry for each act, written with the act itself and never changed."""
