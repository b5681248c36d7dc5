"""What the commands answer, and how it is written: free of any terminal, page or screen."""
