"""From a recorded or typed track to a clean course, with an account of what was done."""
