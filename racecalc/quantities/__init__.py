"""Text with units to plain SI numbers and back; the only row that imports pint."""
