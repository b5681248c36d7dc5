"""Which options to buy together under a budget."""
