"""The page that the athlete takes home: what it says once, and the forms it is written in."""
