"""Disclosure control: small-count suppression of a comparison, public study facts, and k-anonymous microdata."""
