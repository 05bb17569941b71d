"""Writing only: tables, pictures and files."""
