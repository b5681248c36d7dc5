"""Command line, tables, charts and JSON; no arithmetic beyond formatting."""
