"""What the commands answer, and how it is told: free of any terminal, page or screen."""
