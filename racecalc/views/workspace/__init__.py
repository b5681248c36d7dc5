"""The terminal interface: one race file, and what every number in it means."""
