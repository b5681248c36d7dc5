"""After the race: what was planned, what was ridden, and who was wrong."""
