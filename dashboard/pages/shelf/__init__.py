"""Products and cans."""
