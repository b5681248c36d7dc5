"""After the race: what was planned, what was ridden, and which input was off."""
