"""The database: tables, and every question and change put to them, by name."""
