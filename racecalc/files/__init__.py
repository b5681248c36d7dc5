"""Race files, course files and tables: text on disk to plain records with places."""
