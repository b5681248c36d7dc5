"""The commands, in files by who asks: the owner of a race, and the tester."""
