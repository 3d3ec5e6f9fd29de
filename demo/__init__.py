"""The invented clinic: no person, place, code or result in it is real."""
