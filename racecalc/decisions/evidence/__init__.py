"""From test runs to differences, verdicts and predictions with honest doubt."""
