"""What a watt, a gram or an euro is worth in seconds on a rider's own course."""

__version__ = "0.1.0"
