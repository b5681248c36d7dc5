"""Rates, savings, value and break-even: answers that say everything a view shows."""
