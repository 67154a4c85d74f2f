"""What a shop keeps: tables, one unit of work and the repositories, on SQLite or PostgreSQL."""
