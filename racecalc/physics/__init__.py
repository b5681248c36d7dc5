"""Air density, wind at rider height and resisting forces: pure functions on arrays."""
