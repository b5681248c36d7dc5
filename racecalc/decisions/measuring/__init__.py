"""From ride recordings to the drag area of each run of a test day."""
