"""What an athlete should do about a race: what to ride, buy, leave and test, and what to heed."""
