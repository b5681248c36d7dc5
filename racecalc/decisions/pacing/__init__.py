"""How to spread a rider's power over a course, within what they can hold."""
