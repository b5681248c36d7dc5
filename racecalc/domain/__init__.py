"""Frozen records in SI that describe a race, checked once at construction."""
