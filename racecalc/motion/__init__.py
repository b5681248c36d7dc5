"""The speed along the course, the total time and its exact derivatives."""
